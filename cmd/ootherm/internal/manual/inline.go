package manual

import (
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/util"
)

// unescape returns the characters that a text node stands for. Within code every
// character stands for itself.
func unescape(t *ast.Text, source []byte) []byte {
	value := t.Segment.Value(source)
	if t.IsRaw() || t.Parent() != nil && t.Parent().Kind() == ast.KindCodeSpan {
		return value
	}
	return util.UnescapePunctuations(util.ResolveEntityNames(util.ResolveNumericReferences(value)))
}

// span is a run of text in one style.
type span struct {
	text  string
	style style
}

type style int

const (
	plain style = iota
	strong
	emphasis
	code
)

// spans flattens the inline content of a node. A link to a topic is its text followed
// by what refer makes of the name; a link elsewhere is followed by its address.
func spans(n ast.Node, source []byte, refer func(topic string) string) []span {
	var all []span
	var walk func(ast.Node, style)
	walk = func(n ast.Node, in style) {
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			switch c := c.(type) {
			case *ast.Text:
				text := string(unescape(c, source))
				if c.SoftLineBreak() || c.HardLineBreak() {
					text += " "
				}
				all = append(all, span{text, in})
			case *ast.CodeSpan:
				walk(c, code)
			case *ast.Emphasis:
				if c.Level > 1 {
					walk(c, strong)
				} else {
					walk(c, emphasis)
				}
			case *ast.Link:
				walk(c, in)
				destination := string(c.Destination)
				if name, _, ok := topicOf(destination); ok {
					destination = refer(name)
				}
				all = append(all, span{" (" + destination + ")", in})
			default:
				walk(c, in)
			}
		}
	}
	walk(n, plain)
	return all
}

// lines returns the lines of a code block, each with its end.
func lines(n ast.Node, source []byte) []string {
	var all []string
	for i := range n.Lines().Len() {
		s := n.Lines().At(i)
		all = append(all, string(s.Value(source)))
	}
	return all
}
