package manual

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	extast "github.com/yuin/goldmark/extension/ast"
)

const (
	minTerminalWidth = 40
	bodyIndent       = "  "
	codeIndent       = "    "
)

// Terminal returns the topic as plain text for a terminal of a width in characters.
// Text and tables are wrapped; code keeps its lines.
func (t Topic) Terminal(width int) string {
	p := &terminalPrinter{source: t.source, width: max(width, minTerminalWidth)}
	p.blocks(parse(t.source), bodyIndent)
	return strings.TrimLeft(p.b.String(), "\n")
}

// helpCommand returns the command line that shows a topic.
func helpCommand(topic string) string { return "ootherm help " + topic }

type terminalPrinter struct {
	source []byte
	width  int
	b      strings.Builder
}

func (p *terminalPrinter) blocks(parent ast.Node, indent string) {
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		p.b.WriteString("\n")
		p.block(n, indent)
	}
}

func (p *terminalPrinter) block(n ast.Node, indent string) {
	switch n := n.(type) {
	case *ast.Heading:
		p.b.WriteString(strings.Repeat(" ", max(0, n.Level-2)) + p.text(n) + "\n")
	case *ast.FencedCodeBlock, *ast.CodeBlock:
		for _, line := range lines(n, p.source) {
			p.b.WriteString(strings.TrimRight(indent+codeIndent+line, " \n") + "\n")
		}
	case *ast.List:
		p.list(n, indent)
	case *extast.Table:
		for _, line := range tableLines(n, p.text, p.width-len(indent)) {
			p.b.WriteString(indent + line + "\n")
		}
	default:
		p.paragraph(n, indent, indent)
	}
}

func (p *terminalPrinter) text(n ast.Node) string {
	var b strings.Builder
	for _, s := range spans(n, p.source, helpCommand) {
		b.WriteString(s.text)
	}
	return b.String()
}

// paragraph writes wrapped text, the first line after another indent than the rest.
func (p *terminalPrinter) paragraph(n ast.Node, first, rest string) {
	for _, line := range wrap(p.text(n), p.width-utf8.RuneCountInString(rest)) {
		p.b.WriteString(first + line + "\n")
		first = rest
	}
}

func (p *terminalPrinter) list(list *ast.List, indent string) {
	number := list.Start
	for item := list.FirstChild(); item != nil; item = item.NextSibling() {
		mark := "- "
		if list.IsOrdered() {
			mark = fmt.Sprintf("%d. ", number)
			number++
		}
		inner := indent + strings.Repeat(" ", len(mark))
		for n := item.FirstChild(); n != nil; n = n.NextSibling() {
			if n == item.FirstChild() {
				p.paragraph(n, indent+mark, inner)
				continue
			}
			p.b.WriteString("\n")
			p.block(n, inner)
		}
	}
}

// wrap breaks text at spaces into lines of at most width characters. A longer word
// has a line of its own.
func wrap(text string, width int) []string {
	var all []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width:
			all, line = append(all, line), word
		default:
			line += " " + word
		}
	}
	if line != "" {
		all = append(all, line)
	}
	return all
}

const (
	columnGap      = 2
	minColumnWidth = 12
)

// tableLines lays a table out in at most width characters, if its words allow it. The
// header is set off by a rule.
func tableLines(table *extast.Table, text func(ast.Node) string, width int) []string {
	var rows [][]string
	for row := table.FirstChild(); row != nil; row = row.NextSibling() {
		var cells []string
		for cell := row.FirstChild(); cell != nil; cell = cell.NextSibling() {
			cells = append(cells, text(cell))
		}
		rows = append(rows, cells)
	}
	widths := columnWidths(rows, width)
	var all []string
	for i, row := range rows {
		all = append(all, rowLines(row, widths)...)
		if i == 0 {
			var rules []string
			for _, w := range widths {
				rules = append(rules, strings.Repeat("-", w))
			}
			all = append(all, strings.Join(rules, strings.Repeat(" ", columnGap)))
		}
	}
	if len(rows) > 0 && strings.Join(rows[0], "") == "" {
		return all[2:] // a table without headings
	}
	return all
}

// columnWidths gives each column the width of its longest cell, and narrows the widest
// columns until the table fits.
func columnWidths(rows [][]string, width int) []int {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	total := func() int {
		n := columnGap * (len(widths) - 1)
		for _, w := range widths {
			n += w
		}
		return n
	}
	for len(widths) > 0 && total() > width {
		widest := slices.Index(widths, slices.Max(widths))
		if widths[widest] <= minColumnWidth {
			break
		}
		widths[widest]--
	}
	return widths
}

func rowLines(row []string, widths []int) []string {
	cells := make([][]string, len(row))
	height := 1
	for i, cell := range row {
		cells[i] = wrap(cell, widths[i])
		height = max(height, len(cells[i]))
	}
	var all []string
	for y := range height {
		var b strings.Builder
		for i := range cells {
			cell := ""
			if y < len(cells[i]) {
				cell = cells[i][y]
			}
			b.WriteString(cell + strings.Repeat(" ", max(0, widths[i]-utf8.RuneCountInString(cell))+columnGap))
		}
		all = append(all, strings.TrimRight(b.String(), " "))
	}
	return all
}
