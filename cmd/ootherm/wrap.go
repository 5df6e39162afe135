package main

import (
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"
)

// wrapped breaks what is written to a terminal between words, at the width that the
// terminal has. To anything else it writes unchanged.
func wrapped(w io.Writer) io.Writer {
	if f, ok := w.(*os.File); ok {
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			return wordWrapper{w, width}
		}
	}
	return w
}

// wordWrapper breaks lines between words. Each Write holds whole lines, or a question that
// is answered on its line.
type wordWrapper struct {
	w     io.Writer
	width int // in characters
}

func (x wordWrapper) Write(p []byte) (int, error) {
	lines := strings.Split(string(p), "\n")
	for i, line := range lines {
		lines[i] = wrapLine(line, x.width)
	}
	if _, err := io.WriteString(x.w, strings.Join(lines, "\n")); err != nil {
		return 0, err
	}
	return len(p), nil
}

// wrapLine breaks a line between words where it is wider than so many characters. What
// follows is indented like its beginning. A word that is wider stays whole.
func wrapLine(line string, width int) string {
	if utf8.RuneCountInString(line) <= width {
		return line
	}
	words := strings.TrimLeft(line, " ")
	indent := line[:len(line)-len(words)]
	var b strings.Builder
	column := 0
	for i, word := range strings.SplitAfter(words, " ") {
		n := utf8.RuneCountInString(word)
		if shown := utf8.RuneCountInString(strings.TrimRight(word, " ")); i == 0 || column+shown > width {
			if i > 0 {
				b.WriteString("\n")
			}
			b.WriteString(indent)
			column = len(indent)
		}
		b.WriteString(word)
		column += n
	}
	return b.String()
}
