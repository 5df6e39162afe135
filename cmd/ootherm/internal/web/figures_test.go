package web

import (
	"encoding/json"
	"fmt"
	"html"
	"maps"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/metrics"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// published is every number and every time that /api/v1 gives.
type published struct {
	numbers []float64
	times   []time.Time
	texts   []string // sentences, which may have figures of their own
}

// read adds what a JSON value holds.
func (p *published) read(v any) {
	switch x := v.(type) {
	case float64:
		p.numbers = append(p.numbers, x)
	case string:
		if at, err := time.Parse(time.RFC3339, x); err == nil {
			p.times = append(p.times, at)
		} else if strings.Contains(x, " ") {
			p.texts = append(p.texts, x)
		}
	case []any:
		for _, y := range x {
			p.read(y)
		}
	case map[string]any:
		for _, y := range x {
			p.read(y)
		}
	}
}

// ask adds the answer of an address, one JSON value or one a line.
func (p *published) ask(t *testing.T, h http.Handler, target string) {
	t.Helper()
	w := get(h, target)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: status %d", target, w.Code)
	}
	for d := json.NewDecoder(w.Body); d.More(); {
		var v any
		if err := d.Decode(&v); err != nil {
			t.Fatalf("%s: %v", target, err)
		}
		p.read(v)
	}
}

// has reports whether a number is published, to a part in a million.
func (p *published) has(v float64) bool {
	if slices.ContainsFunc(p.numbers, func(x float64) bool { return math.Abs(x-v) <= 1e-6*math.Max(1, math.Abs(v)) }) {
		return true
	}
	return slices.ContainsFunc(p.times, func(x time.Time) bool { return math.Abs(float64(x.Unix())-v) <= 1 })
}

// figureKind is a kind of figure on a page: its form, and how each published value reads.
type figureKind struct {
	is    *regexp.Regexp
	reads map[string]bool
}

// figures are the kinds of figures on a page.
func (p *published) figures(r words.Reader) map[string]figureKind {
	all := map[string]figureKind{}
	reads := func(kind, pattern string, texts func(add func(string))) {
		set := map[string]bool{}
		texts(func(s string) { set[strings.ReplaceAll(s, "\u00a0", " ")] = true })
		all[kind] = figureKind{regexp.MustCompile(pattern), set}
	}
	reads("temperature", `\d+\.\d °F`, func(add func(string)) {
		for _, v := range p.numbers {
			add(strings.TrimLeft(r.Temperature(v), "-\u2212"))
			add(r.Difference(math.Abs(v)))
		}
	})
	reads("share", `\d+ %`, func(add func(string)) {
		for _, v := range p.numbers {
			add(words.Percent(v))
			add(fmt.Sprintf("%.0f %%", 100*v))
			add(fmt.Sprintf("%.0f %%", math.Abs(100*(v-1)))) // a ratio of days
		}
	})
	reads("mass", `[\d.]+ g\b`, func(add func(string)) {
		for _, v := range p.numbers {
			add(words.Grams(v))
			add(fmt.Sprintf("%g g", v))
		}
	})
	reads("day", `\b\d{1,2} (?:January|February|March|April|May|June|July|August|September|October|November|December|Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b`, func(add func(string)) {
		for _, x := range p.times {
			for _, near := range []time.Duration{0, -time.Second} { // a span may be told by its last moment
				add(x.Add(near).In(r.Place).Format("2 January"))
				add(x.Add(near).In(r.Place).Format("2 Jan"))
			}
		}
	})
	reads("clock", `\b\d\d:\d\d\b`, func(add func(string)) {
		for _, x := range p.times {
			add(r.Clock(x))
		}
	})
	reads("count", `\b\d+ of \d+\b`, func(add func(string)) {
		for i := range p.numbers {
			for j := range p.numbers {
				if a, b := p.numbers[i], p.numbers[j]; a == math.Trunc(a) && b == math.Trunc(b) && a <= b && b < 1000 && a >= 0 {
					add(fmt.Sprintf("%.0f of %.0f", a, b))
				}
			}
		}
	})
	return all
}

// explained are texts whose figures are no measurement: they are stated, or the page computes
// them of what else stands there.
var explained = regexp.MustCompile(`0\.8 to 1 part|95 % interval|95 of 100|10 of 100|In brackets: 95 %|\(\d+-\d+.%\)|fifth|from day \d+ on [^;]*|Followed: [^.]*\.|100 %|50 %|0 %`)

// drawings are left out: their captions have what was read, which other tests compare.
var drawings = regexp.MustCompile(`(?s)<figure.*?</figure>|<svg.*?</svg>|<form.*?</form>`)

// Every figure of the pages is one that /api/v1 publishes, as a reader has it, and every
// measurement of /metrics is too.
func TestEveryFigureIsPublished(t *testing.T) {
	d, _ := recordDesk(t)
	n := season()
	o := options(n)
	o.Writer, o.Book, o.Profiles = d, d, []string{"crested gecko"}
	exposition, err := metrics.New(fixed{n}, func() map[metrics.Attempt]int { return nil }, "1.2.3")
	if err != nil {
		t.Fatal(err)
	}
	o.Metrics = exposition
	var asked [3]string
	o.Incidents = looking{&asked}
	h := handler(t, o)
	var p published
	p.times = append(p.times, at)
	for _, target := range []string{"/api/v1/now", "/api/v1/book", "/api/v1/review", "/api/v1/review?from=2025-01-01&to=2025-12-31", "/api/v1/incident?" + incidentOf,
		"/api/v1/rehearsal?zone=room", "/api/v1/rehearsal?zone=incubator"} {
		p.ask(t, h, target)
	}
	kinds := p.figures(o.Reader)
	seen := map[string]int{}
	looked, led := map[string]bool{}, map[string]string{}
	for _, target := range everyPage(n) {
		looked[pageKind.FindString(target)] = true
		for kind, n := range p.compare(t, h, target, kinds) {
			seen[kind] += n
		}
		for _, link := range elementsOf(t, get(h, target)).find("a") {
			led[pageKind.FindString(link.attrs["href"])] = target
		}
	}
	for kind, from := range led {
		if kind != "" && !looked[kind] && !withoutFigures[kind] {
			t.Errorf("%s links to pages under %s, of which none is looked at", from, kind)
		}
	}
	for kind := range kinds {
		if seen[kind] < 5 {
			t.Errorf("only %d figures of the kind %s were seen", seen[kind], kind)
		}
	}
	p.compareMetrics(t, h)
}

// pageKind is the part of an address that names a kind of page.
var pageKind = regexp.MustCompile(`^/[a-z]*`)

// withoutFigures are pages that show what is typed, what is configured, or the manual.
var withoutFigures = map[string]bool{"/help": true, "/more": true, "/labels": true, "/api": true, "/calendar": true}

// incidentOf is the span that the page and the API look back at.
const incidentOf = "from=2026-06-09T08:00:00Z&to=2026-06-09T14:00:00Z"

// everyPage are the pages of all things of a station and of recordLines.
func everyPage(n *snapshot.Snapshot) []string {
	targets := []string{"/", "/medium", "/review", "/review?from=2025-01-01&to=2025-12-31", "/note", "/noted", "/hatchlings", "/d/Sorrel", "/d/Tansy", "/s/Juniper", "/s/Juniper/Sorrel", "/e/S1-1", "/e/S1-2", "/e/T0-1", "/c/T0", "/review/Sorrel", "/search?q=s1", "/incident?" + incidentOf}
	for _, b := range n.Boxes {
		targets = append(targets, page.BoxHref(b.Box))
		for _, c := range b.Clutches {
			targets = append(targets, page.ClutchHref(c.Clutch))
		}
	}
	for _, a := range n.Alarms {
		targets = append(targets, "/alarm?key="+url.QueryEscape(a.Key))
	}
	for _, z := range n.Zones {
		targets = append(targets, page.ZoneHref(z.Zone), "/rehearsal?zone="+url.QueryEscape(z.Zone))
		for _, q := range z.Probes {
			targets = append(targets, page.ProbeHref(q.Probe))
		}
	}
	return targets
}

// compare looks up every figure of a page, and counts them by kind.
func (p *published) compare(t *testing.T, h http.Handler, target string, kinds map[string]figureKind) map[string]int {
	t.Helper()
	w := get(h, target)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: status %d", target, w.Code)
	}
	text := html.UnescapeString(tags.ReplaceAllString(drawings.ReplaceAllString(w.Body.String(), " "), " "))
	text = explained.ReplaceAllString(strings.Join(strings.Fields(text), " "), " ")
	seen := map[string]int{}
	for _, kind := range slices.Sorted(maps.Keys(kinds)) {
		for _, at := range kinds[kind].is.FindAllStringIndex(text, -1) {
			figure := text[at[0]:at[1]]
			seen[kind]++
			if !kinds[kind].reads[figure] && !slices.ContainsFunc(p.texts, func(s string) bool { return strings.Contains(s, figure) }) {
				t.Errorf("%s: the %s %q is not published: ...%s...", target, kind, figure, text[max(0, at[0]-60):min(len(text), at[1]+30)])
			}
		}
	}
	return seen
}

// compareMetrics looks up every measurement of /metrics.
func (p *published) compareMetrics(t *testing.T, h http.Handler) {
	t.Helper()
	samples := 0
	for line := range strings.Lines(get(h, "/metrics").Body.String()) {
		name, value, _ := strings.Cut(strings.TrimSpace(line), " ")
		if i := strings.LastIndex(line, "} "); i > 0 {
			name, value = line[:i+1], strings.TrimSpace(line[i+2:])
		}
		if !strings.HasPrefix(name, "ootherm_") || !measurement.MatchString(name) {
			continue
		}
		v, err := strconv.ParseFloat(value, 64)
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		samples++
		if !p.has(v) {
			t.Errorf("%s %v is not in /api/v1", name, v)
		}
	}
	if samples < 50 {
		t.Errorf("only %d measurements in /metrics", samples)
	}
}

// measurement are the metrics that say what is measured or foretold; the others count or
// describe the station itself.
var measurement = regexp.MustCompile(`_(celsius|ratio|kelvin|pascals|timestamp_seconds|grams)\b|_celsius_per_hour|developed|degree_days`)
