package manual

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	extast "github.com/yuin/goldmark/extension/ast"
)

const (
	maxTopicBytes   = 8 << 10 // a topic is read in one go; our choice
	maxSourceLine   = 92
	maxSummaryRunes = 140 // fits beside its name in a list
)

// Every file is a topic and every topic is a file, with a title and a summary.
func TestTopics(t *testing.T) {
	listed := Topics()
	names := make([]string, 0, len(listed))
	for _, x := range listed {
		names = append(names, x.Name)
		if x.Title == "" || x.Summary == "" || utf8.RuneCountInString(x.Summary) > maxSummaryRunes {
			t.Errorf("%s: title %q, summary %q of %d characters", x.Name, x.Title, x.Summary, utf8.RuneCountInString(x.Summary))
		}
		if n := len(x.Markdown()); n > maxTopicBytes {
			t.Errorf("%s has %d bytes, over %d: split it", x.Name, n, maxTopicBytes)
		}
		inTable := false
		for i, line := range strings.Split(x.Markdown(), "\n") {
			inTable = strings.HasPrefix(line, "|")
			if !inTable && !strings.HasPrefix(line, "{") && utf8.RuneCountInString(line) > maxSourceLine {
				t.Errorf("%s:%d is over %d characters", x.Name, i+1, maxSourceLine)
			}
		}
	}
	wanted := 0
	for _, o := range order {
		wanted += len(o.names)
	}
	if len(listed) != wanted {
		t.Errorf("%d topics have a file, %d are listed", len(listed), wanted)
	}
	onDisk, err := filepath.Glob("topics/*.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range onDisk {
		if name := strings.TrimSuffix(filepath.Base(path), ".md"); !slices.Contains(names, name) {
			t.Errorf("%s is in no group", path)
		}
	}
	if _, ok := Find("../manual"); ok {
		t.Error("a path is a topic")
	}
}

// Each link leads to a topic, and the renderers know every kind of node.
func TestLinksAndNodes(t *testing.T) {
	known := []ast.NodeKind{
		ast.KindDocument, ast.KindHeading, ast.KindParagraph, ast.KindTextBlock, ast.KindFencedCodeBlock,
		ast.KindList, ast.KindListItem, ast.KindText, ast.KindString, ast.KindCodeSpan, ast.KindEmphasis, ast.KindLink,
		extast.KindTable, extast.KindTableHeader, extast.KindTableRow, extast.KindTableCell,
	}
	links := 0
	for _, x := range Topics() {
		err := ast.Walk(parse(x.source), func(n ast.Node, entering bool) (ast.WalkStatus, error) {
			if !entering {
				return ast.WalkContinue, nil
			}
			if !slices.Contains(known, n.Kind()) {
				t.Errorf("%s has a %s, which the terminal and man cannot show", x.Name, n.Kind())
			}
			if link, ok := n.(*ast.Link); ok {
				links++
				name, _, ok := topicOf(string(link.Destination))
				if _, there := Find(name); !ok || !there {
					t.Errorf("%s links to %s, which is no topic", x.Name, link.Destination)
				}
			}
			return ast.WalkContinue, nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if links < len(Topics()) {
		t.Errorf("%d links in %d topics: readers do not find the next one", links, len(Topics()))
	}
}

// What a topic names as another topic in a command line exists.
func TestHelpCommandsName(t *testing.T) {
	for _, x := range Topics() {
		for _, part := range strings.Split(x.Markdown(), "ootherm help ")[1:] {
			name := strings.FieldsFunc(part, func(r rune) bool { return r != '-' && (r < 'a' || r > 'z') })[0]
			if _, ok := Find(name); !ok {
				t.Errorf("%s says ootherm help %s, which is no topic", x.Name, name)
			}
		}
	}
}

func TestTerminal(t *testing.T) {
	x := Topic{source: []byte(`# Title

One [link](alarms.md) and ` + "`code`" + ` and **strong** words that are wrapped at the width of the terminal.

## Part

1. first
2. second with more words than one line of forty characters takes

   ` + "```" + `
   sudo   systemctl
   ` + "```" + `

| a | b |
|---|---|
| x | long words in a cell that must be wrapped |
`)}
	const want = `Title

  One link (ootherm help alarms) and
  code and strong words that are wrapped
  at the width of the terminal.

Part

  1. first
  2. second with more words than one
     line of forty characters takes

         sudo   systemctl

  a  b
  -  -----------------------------------
  x  long words in a cell that must be
     wrapped
`
	if got := x.Terminal(40); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// No line of prose or of a table is wider than asked; code keeps its lines.
func TestTerminalWidth(t *testing.T) {
	for _, x := range Topics() {
		code := map[string]bool{}
		err := ast.Walk(parse(x.source), func(n ast.Node, entering bool) (ast.WalkStatus, error) {
			if entering && n.Kind() == ast.KindFencedCodeBlock {
				for _, line := range lines(n, x.source) {
					code[strings.TrimSpace(line)] = true
				}
			}
			return ast.WalkContinue, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, width := range []int{80, 100} {
			for _, line := range strings.Split(x.Terminal(width), "\n") {
				if utf8.RuneCountInString(line) > width && !code[strings.TrimSpace(line)] && strings.Contains(strings.TrimSpace(line), " ") {
					t.Errorf("%s at %d: %d characters: %s", x.Name, width, utf8.RuneCountInString(line), line)
				}
			}
		}
	}
}

func TestHTML(t *testing.T) {
	x := Topic{source: []byte("# Title\n\n[alarms](alarms.md#the-kinds) <script>alert(1)</script> [bad](javascript&colon;alert(1))\n\n| a |\n|--:|\n| 1 < 2 |\n")}
	got, err := x.HTML(func(topic string) string { return "/help/" + topic })
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{`<h1 id="title">Title</h1>`, `<a href="/help/alarms#the-kinds">`, `<td align="right">1 &lt; 2</td>`} {
		if !strings.Contains(string(got), part) {
			t.Errorf("no %s in %s", part, got)
		}
	}
	for _, part := range []string{"<script", "javascript", "style="} {
		if strings.Contains(string(got), part) {
			t.Errorf("%s in %s", part, got)
		}
	}
}

func TestManPage(t *testing.T) {
	x := Topic{Name: "alarms", Title: "Alarms", Summary: "What calls.", source: []byte("# Alarms\n\nWhat calls.\n\n.dot and `a-b \\\\ c`, see [senders](senders.md).\n\n- one\n- two\n\n```\n'quote\n--flag\n```\n")}
	const want = `.TH "OOTHERM-ALARMS" 7 "" "ootherm 1.2" "ootherm"
.SH NAME
ootherm\-alarms \- What calls
.SH DESCRIPTION
.PP
What calls.
.PP
\&.dot and \fBa\-b \e\e c\fR, see senders (ootherm\-senders(7)).
.IP \(bu 4
one
.IP \(bu 4
two
.PP
.nf
\&'quote
\-\-flag
.fi
.SH SEE ALSO
\fBootherm\fR(1)
`
	if got := x.ManPage("1.2"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
