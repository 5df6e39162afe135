// Package manual holds the help topics and renders them for a terminal, for a web
// page and as man pages. It owns the text of the manual, one Markdown file for each
// topic, and the order in which readers see the topics. It must not know the station,
// the web server or the commands: callers pass it a width or the address of a topic.
package manual

import (
	"embed"
	"slices"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
)

//go:embed topics/*.md
var files embed.FS

// Topic is one page of the manual.
type Topic struct {
	Name    string // lower case with hyphens, as in `ootherm help NAME`
	Title   string // the heading of the page, without markup
	Summary string // the first paragraph: one line, without markup
	source  []byte // Markdown
}

// Group is a set of topics that belong together, in reading order.
type Group struct {
	Title  string
	Topics []Topic
}

// order lists every topic by name, in reading order.
var order = []struct {
	title string
	names []string
}{
	{"Begin", []string{"install", "wiring", "placing-probes", "calibration", "first-clutch", "cautions"}},
	{"Every day", []string{"noting", "alarm-kinds", "senders", "water", "labels-and-calendar", "other-machines", "looking-back"}},
	{"The forecast", []string{"forecast", "accuracy", "early-warning", "species"}},
	{"The season", []string{"season-review", "next-season"}},
	{"When something went wrong", []string{"silent-alarms", "no-window", "card-died", "new-pi", "upgrade", "forgotten-passphrase", "permissions"}},
	{"Reference", []string{"commands", "configuration", "book-format", "data-and-copies", "recordings", "api", "fleet", "stability", "resources", "measured"}},
}

// Groups returns all topics by group, in reading order.
func Groups() []Group {
	groups := make([]Group, 0, len(order))
	for _, o := range order {
		g := Group{Title: o.title}
		for _, name := range o.names {
			if t, ok := read(name); ok {
				g.Topics = append(g.Topics, t)
			}
		}
		groups = append(groups, g)
	}
	return groups
}

// Topics returns all topics in reading order.
func Topics() []Topic {
	var all []Topic
	for _, g := range Groups() {
		all = append(all, g.Topics...)
	}
	return all
}

// synonyms are words that readers look for, with the topic that describes each.
var synonyms = map[string]string{"purge": "data-and-copies", "uninstall": "data-and-copies", "remove": "data-and-copies"}

// Find returns the topic of a name or of a synonym, and whether there is one.
func Find(name string) (Topic, bool) {
	if topic, ok := synonyms[name]; ok {
		name = topic
	}
	for _, o := range order {
		if slices.Contains(o.names, name) {
			return read(name)
		}
	}
	return Topic{}, false
}

// Markdown returns the source of the topic.
func (t Topic) Markdown() string { return string(t.source) }

// read loads a topic. Its first heading is the title, and its first paragraph the
// summary.
func read(name string) (Topic, bool) {
	source, err := files.ReadFile("topics/" + name + ".md")
	if err != nil {
		return Topic{}, false
	}
	t := Topic{Name: name, source: source}
	for n := parse(source).FirstChild(); n != nil; n = n.NextSibling() {
		switch n.Kind() {
		case ast.KindHeading:
			if t.Title == "" {
				t.Title = plainText(n, source)
			}
		case ast.KindParagraph:
			t.Summary = plainText(n, source)
			return t, true
		}
	}
	return t, true
}

// newMarkdown is CommonMark with tables. It renders no raw HTML.
func newMarkdown() goldmark.Markdown {
	return goldmark.New(
		goldmark.WithExtensions(extension.NewTable(extension.WithTableCellAlignMethod(extension.TableCellAlignAttribute))),
		goldmark.WithParserOptions(parser.WithAutoHeadingID()),
	)
}

// parse returns the document of a Markdown text.
func parse(source []byte) ast.Node {
	return newMarkdown().Parser().Parse(text.NewReader(source))
}

// topicOf returns the name of the topic that a link leads to, and whether it leads to
// one. Topics link to one another by file name: `alarm-kinds.md`, `alarm-kinds.md#part`.
func topicOf(destination string) (name, fragment string, ok bool) {
	path, fragment, _ := strings.Cut(destination, "#")
	name, ok = strings.CutSuffix(path, ".md")
	return name, fragment, ok && !strings.Contains(name, "/")
}

// plainText returns the words of a node without markup, on one line.
func plainText(n ast.Node, source []byte) string {
	var b strings.Builder
	writeText(&b, n, source)
	return strings.Join(strings.Fields(b.String()), " ")
}

func writeText(b *strings.Builder, n ast.Node, source []byte) {
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		if t, ok := c.(*ast.Text); ok {
			b.Write(unescape(t, source))
			if t.SoftLineBreak() || t.HardLineBreak() {
				b.WriteByte(' ')
			}
			continue
		}
		writeText(b, c, source)
	}
}
