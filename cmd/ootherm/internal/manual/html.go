package manual

import (
	"bytes"
	"fmt"
	"html/template"

	"github.com/yuin/goldmark/ast"
)

// HTML returns the topic for a web page, its heading included. Links to other topics
// lead to what address returns for their name. Raw HTML is left out, and so are
// addresses that run a script, by goldmark's own rules.
func (t Topic) HTML(address func(topic string) string) (template.HTML, error) {
	document := parse(t.source)
	err := ast.Walk(document, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		link, ok := n.(*ast.Link)
		if !ok || !entering {
			return ast.WalkContinue, nil
		}
		if name, fragment, ok := topicOf(string(link.Destination)); ok {
			to := address(name)
			if fragment != "" {
				to += "#" + fragment
			}
			link.Destination = []byte(to)
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		return "", fmt.Errorf("help topic %s: %w", t.Name, err)
	}
	var b bytes.Buffer
	if err := newMarkdown().Renderer().Render(&b, t.source, document); err != nil {
		return "", fmt.Errorf("help topic %s: %w", t.Name, err)
	}
	return template.HTML(b.String()), nil
}
