package web

import (
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var (
	unshown = regexp.MustCompile(`(?s)<(head|script|title)\b.*?</(head|script|title)>`)
	// Elements that begin on a line of their own where no style sheet is known.
	ownLine = regexp.MustCompile(`</?(p|div|h[1-6]|li|ul|ol|dl|dt|dd|tr|td|th|caption|table|section|article|header|footer|main|form|fieldset|legend|details|summary|figure|figcaption|button|label|option|select|input|br)\b[^>]*>`)
	markup  = regexp.MustCompile(`<[^>]*>`)
	// Two words without a space between them: "Dec71", "OctNov", "likely5". An egg's name and
	// an abbreviation have both too.
	joined = regexp.MustCompile(`[a-z%][A-Z][a-z]|[a-z]{2}\d|%\d|\d%|\d[A-Z][a-z]`)
)

// inLines is a page as a browser without style sheets, drawings and scripts shows it.
func inLines(page string) (lines []string) {
	page = ownLine.ReplaceAllString(unshown.ReplaceAllString(page, ""), "\n")
	for line := range strings.Lines(html.UnescapeString(markup.ReplaceAllString(page, ""))) {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

// A browser that shows text alone has every word apart, what is wrong first, and the places
// after all that the page says.
func TestPagesReadInATextBrowser(t *testing.T) {
	files, err := filepath.Glob("testdata/*.html")
	if err != nil || len(files) < 25 {
		t.Fatalf("%d pages: %v", len(files), err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		lines := inLines(string(text))
		for _, line := range lines {
			if found := joined.FindString(strings.ReplaceAll(line, "kPa", "")); found != "" {
				t.Errorf("%s: %q runs together in %q", name, found, line)
			}
		}
	}
	o := options(season())
	o.Writer = &ear{}
	first := strings.Join(inLines(get(handler(t, o), "/").Body.String()), "\n")
	inOrder(t, first, "▲ Room too warm", "warmest probe", "I have seen it", "First:", "Today", "In the room:", "developed", "Lay boxes", "Zones", "This watches; it switches no heater.")
}
