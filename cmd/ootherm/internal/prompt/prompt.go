// Package prompt asks questions at a terminal or of a script: text, a choice, a secret, a
// temperature. It ends with the context. It must not know what an answer is for.
package prompt

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// talk is a conversation with a person, or with a script.
type Session struct {
	ctx   context.Context // of the whole conversation: Ctrl-C ends it at any question
	want  chan struct{}
	lines chan answer
	out   io.Writer
	over  bool // the last answer was the last
	tty   int  // the terminal that answers are typed at; -1: none
}

type answer struct {
	line string
	err  error
}

// newTalk reads beside the conversation, since a read of a terminal does not heed
// a context.
func New(ctx context.Context, in io.Reader, out io.Writer) *Session {
	t := &Session{ctx: ctx, want: make(chan struct{}), lines: make(chan answer), out: out, tty: -1}
	if f, ok := in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		t.tty = int(f.Fd())
	}
	go func() {
		b := bufio.NewReader(in)
		for {
			select {
			case <-t.want:
			case <-ctx.Done():
				return
			}
			line, err := b.ReadString('\n')
			select {
			case t.lines <- answer{line, err}:
			case <-ctx.Done():
				return
			}
			if err != nil {
				return
			}
		}
	}()
	return t
}

// ErrNoAnswer is the end of the input before a question was answered.
var ErrNoAnswer = usererr.New("the answers ended before the questions did; nothing was written")

func (t *Session) Say(format string, a ...any) { fmt.Fprintf(t.out, format+"\n", a...) }

// Ask asks for a line; empty is Enter alone.
func (t *Session) Ask(question string) (string, error) {
	fmt.Fprint(t.out, question, ": ")
	if t.over {
		return "", ErrNoAnswer
	}
	select {
	case t.want <- struct{}{}:
	case <-t.ctx.Done():
		fmt.Fprintln(t.out)
		return "", ErrNoAnswer
	}
	select {
	case a := <-t.lines:
		t.over = a.err != nil
		switch {
		case a.err != nil && !errors.Is(a.err, io.EOF):
			return "", fmt.Errorf("reading the answer: %w", a.err)
		case a.err != nil && a.line == "":
			fmt.Fprintln(t.out)
			return "", ErrNoAnswer
		}
		line := strings.TrimSpace(a.line)
		if !utf8.ValidString(line) || strings.ContainsFunc(line, unicode.IsControl) {
			t.Say("That held a key that is no letter, such as an arrow; type it once more.")
			return t.Ask(question)
		}
		return line, nil
	case <-t.ctx.Done():
		fmt.Fprintln(t.out)
		return "", ErrNoAnswer
	}
}

// Secret asks for a line that the terminal does not show.
func (t *Session) Secret(question string) (answer string, err error) {
	if t.tty >= 0 {
		was, bad := unix.IoctlGetTermios(t.tty, unix.TCGETS)
		if bad != nil {
			return "", fmt.Errorf("the terminal: %w", bad)
		}
		mute := *was
		mute.Lflag &^= unix.ECHO
		if err := unix.IoctlSetTermios(t.tty, unix.TCSETS, &mute); err != nil {
			return "", fmt.Errorf("the terminal: %w", err)
		}
		defer func() {
			fmt.Fprintln(t.out) // the Enter was not shown either
			if back := unix.IoctlSetTermios(t.tty, unix.TCSETS, was); back != nil && err == nil {
				answer, err = "", fmt.Errorf("the terminal: %w", back)
			}
		}()
	}
	return t.Ask(question)
}

// Degrees is a temperature as people write it: 74, 74.5, 74,5, 74F or 74 °F, in the
// unit F or C. It is NaN beside an error.
func Degrees(text, unit string) (float64, error) {
	text = strings.TrimSpace(strings.TrimSuffix(strings.ToUpper(text), unit))
	text = strings.TrimSpace(strings.TrimSuffix(text, "°"))
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return math.NaN(), fmt.Errorf("%q is no temperature: %w", text, err)
	}
	return v, nil
}

// Yes asks a question that Enter alone answers with no.
func (t *Session) Yes(question string) (bool, error) {
	for {
		answer, err := t.Ask(question + " [y/N]")
		if err != nil {
			return false, err
		}
		switch strings.ToLower(answer) {
		case "y", "yes":
			return true, nil
		case "", "n", "no":
			return false, nil
		}
		t.Say("%q is neither y nor n.", answer)
	}
}
