package manual

import (
	"fmt"
	"strings"

	"github.com/yuin/goldmark/ast"
	extast "github.com/yuin/goldmark/extension/ast"
)

// manTableWidth is the width in characters of tables in man pages: 80 columns less
// the two indents of man.
const manTableWidth = 66

// ManPage returns the topic as a page of section 7 for man(1), in roff. Version is
// that of the program, for the foot of the page.
func (t Topic) ManPage(version string) string {
	return manPage(t.source, manName(t.Name), 7, t.Summary, version)
}

// manName returns the name under which man finds a topic.
func manName(topic string) string { return "ootherm-" + topic }

// CommandPage returns the page of section 1 for man(1), in roff, from the Markdown
// description of a program. Its first heading gives way to man's own heading.
func CommandPage(markdown, name, summary, version string) string {
	return manPage([]byte(markdown), name, 1, summary, version)
}

func manPage(source []byte, name string, section int, summary, version string) string {
	p := &roffPrinter{source: source}
	fmt.Fprintf(&p.b, ".TH %q %d \"\" %q \"ootherm\"\n", strings.ToUpper(name), section, "ootherm "+version)
	p.b.WriteString(".SH NAME\n" + escapeRoff(name) + " \\- " + escapeRoff(strings.TrimSuffix(summary, ".")) + "\n")
	p.blocks(parse(source))
	if section != 1 {
		p.b.WriteString(".SH SEE ALSO\n\\fBootherm\\fR(1)\n")
	}
	return p.b.String()
}

type roffPrinter struct {
	source []byte
	b      strings.Builder
}

func (p *roffPrinter) blocks(parent ast.Node) {
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		p.block(n)
	}
}

func (p *roffPrinter) block(n ast.Node) {
	switch n := n.(type) {
	case *ast.Heading:
		switch n.Level {
		case 1:
			p.b.WriteString(".SH DESCRIPTION\n")
		case 2:
			p.b.WriteString(".SH " + quoteRoff(strings.ToUpper(plainText(n, p.source))) + "\n")
		default:
			p.b.WriteString(".SS " + quoteRoff(plainText(n, p.source)) + "\n")
		}
	case *ast.FencedCodeBlock, *ast.CodeBlock:
		p.literal(lines(n, p.source))
	case *ast.List:
		p.list(n)
	case *extast.Table:
		text := func(cell ast.Node) string {
			var b strings.Builder
			for _, s := range spans(cell, p.source, manReference) {
				b.WriteString(s.text)
			}
			return b.String()
		}
		p.literal(tableLines(n, text, manTableWidth))
	default:
		p.b.WriteString(".PP\n")
		p.inline(n)
	}
}

func manReference(topic string) string { return manName(topic) + "(7)" }

// literal writes lines that keep their breaks and spaces.
func (p *roffPrinter) literal(lines []string) {
	p.b.WriteString(".PP\n.nf\n")
	for _, line := range lines {
		p.b.WriteString(escapeRoff(strings.TrimRight(line, "\n")) + "\n")
	}
	p.b.WriteString(".fi\n")
}

// inline writes the text of a paragraph with its styles.
func (p *roffPrinter) inline(n ast.Node) {
	var b strings.Builder
	for _, s := range spans(n, p.source, manReference) {
		text := escapeInline(s.text)
		switch s.style {
		case strong, code:
			text = `\fB` + text + `\fR`
		case emphasis:
			text = `\fI` + text + `\fR`
		}
		b.WriteString(text)
	}
	p.b.WriteString(guardLine(strings.Join(strings.Fields(b.String()), " ")) + "\n")
}

func (p *roffPrinter) list(list *ast.List) {
	number := list.Start
	for item := list.FirstChild(); item != nil; item = item.NextSibling() {
		mark := `\(bu`
		if list.IsOrdered() {
			mark = fmt.Sprintf("%d.", number)
			number++
		}
		p.b.WriteString(".IP " + mark + " 4\n")
		for n := item.FirstChild(); n != nil; n = n.NextSibling() {
			if n == item.FirstChild() {
				p.inline(n)
				continue
			}
			p.b.WriteString(".RS 4\n")
			p.block(n)
			p.b.WriteString(".RE\n")
		}
	}
}

// roffCharacters are those that roff would read as its own: the backslash, and the
// hyphen, which must stay the one that a shell understands.
var roffCharacters = strings.NewReplacer(`\`, `\e`, "-", `\-`)

func escapeInline(text string) string { return roffCharacters.Replace(text) }

// guardLine keeps a line that begins with a full stop or an apostrophe from being read
// as a request.
func guardLine(line string) string {
	if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
		return `\&` + line
	}
	return line
}

func escapeRoff(line string) string { return guardLine(escapeInline(line)) }

func quoteRoff(text string) string {
	return `"` + strings.ReplaceAll(escapeInline(text), `"`, `""`) + `"`
}
