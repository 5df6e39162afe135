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

// Session is a dialogue with a person at a terminal, or with a script.
type Session struct {
	ctx   context.Context // of the whole session: Ctrl-C ends it at any question
	want  chan struct{}   // asks for the next line
	lines chan answer
	out   io.Writer
	ended bool // no more answers follow
	tty   int  // file descriptor of the terminal; -1: none

	back   bool       // the answer < goes back: see WithBack
	given  []exchange // the answers so far
	replay []exchange // answers that are given again, without a question
}

// exchange is a question and its answer.
type exchange struct{ question, answer string }

type answer struct {
	line string
	err  error
}

// New starts a session that ends with ctx. A goroutine reads the answers, because reading
// from a terminal does not stop when a context ends.
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

// ErrNoAnswer is the error of a question that was asked after the end of the input.
var ErrNoAnswer = usererr.New("the answers ended before the questions did; nothing was written")

// ErrStopped is the error of a question whose session was ended, as by Ctrl-C.
var ErrStopped = usererr.New("stopped; nothing was changed")

// goBack is the answer that goes back to the question before.
const goBack = "<"

var errBack = errors.New("the question before is asked again")

// WithBack runs the questions of an interview. The answer < goes back to the question
// before: ask is called again, and gets the answers up to there without showing the
// questions. So ask must change nothing outside itself until it returns.
func (t *Session) WithBack(ask func() error) error {
	t.back = true
	defer func() { t.back, t.given, t.replay = false, nil, nil }()
	for {
		err := ask()
		if !errors.Is(err, errBack) {
			return err
		}
		t.replay, t.given = t.given, nil
	}
}

// dropLast takes back the last answer, with the answers to the same question that were not
// accepted. It reports whether there was one.
func (t *Session) dropLast() bool {
	n := len(t.given)
	if n == 0 {
		return false
	}
	question := t.given[n-1].question
	for n > 0 && t.given[n-1].question == question {
		n--
	}
	t.given = t.given[:n]
	return true
}

// Say writes a line.
func (t *Session) Say(format string, a ...any) {
	if len(t.replay) == 0 {
		fmt.Fprintf(t.out, format+"\n", a...)
	}
}

// Ask asks for a line. The answer is empty for Enter alone.
func (t *Session) Ask(question string) (string, error) {
	if len(t.replay) > 0 {
		x := t.replay[0]
		t.replay = t.replay[1:]
		t.given = append(t.given, x)
		return x.answer, nil
	}
	line, err := t.readAnswer(question)
	if err != nil || !t.back {
		return line, err
	}
	if line != goBack {
		t.given = append(t.given, exchange{question, line})
		return line, nil
	}
	if n := len(t.given); n > 0 && t.given[n-1].question == question {
		t.dropLast() // answers to this question that were not accepted
	}
	if t.dropLast() {
		return "", errBack
	}
	t.Say("This is the first question.")
	return t.Ask(question)
}

// readAnswer shows a question and reads a line.
func (t *Session) readAnswer(question string) (string, error) {
	fmt.Fprint(t.out, question, ": ")
	if t.ended {
		return "", ErrNoAnswer
	}
	select {
	case t.want <- struct{}{}:
	case <-t.ctx.Done():
		fmt.Fprintln(t.out)
		return "", ErrStopped
	}
	select {
	case a := <-t.lines:
		t.ended = a.err != nil
		switch {
		case a.err != nil && !errors.Is(a.err, io.EOF):
			return "", fmt.Errorf("reading the answer: %w", a.err)
		case a.err != nil && a.line == "":
			fmt.Fprintln(t.out)
			return "", ErrNoAnswer
		}
		line := strings.TrimSpace(a.line)
		if !utf8.ValidString(line) || strings.ContainsFunc(line, unicode.IsControl) {
			t.Say("That contained a key that is not a character, such as an arrow; type it once more.")
			return t.readAnswer(question)
		}
		return line, nil
	case <-t.ctx.Done():
		fmt.Fprintln(t.out)
		return "", ErrStopped
	}
}

// Secret asks for a line. A terminal does not show what is typed.
func (t *Session) Secret(question string) (answer string, err error) {
	if t.tty >= 0 && len(t.replay) == 0 {
		before, bad := unix.IoctlGetTermios(t.tty, unix.TCGETS)
		if bad != nil {
			return "", fmt.Errorf("the terminal: %w", bad)
		}
		silent := *before
		silent.Lflag &^= unix.ECHO
		if err := unix.IoctlSetTermios(t.tty, unix.TCSETS, &silent); err != nil {
			return "", fmt.Errorf("the terminal: %w", err)
		}
		defer func() {
			fmt.Fprintln(t.out) // the terminal did not show Enter either
			if restored := unix.IoctlSetTermios(t.tty, unix.TCSETS, before); restored != nil && err == nil {
				answer, err = "", fmt.Errorf("the terminal: %w", restored)
			}
		}()
	}
	return t.Ask(question)
}

// Degrees parses a temperature as people write it: 74, 74.5, 74,5, 74F or 74 °F. The
// unit is F or C, and the result is in that unit; with an error it is NaN.
func Degrees(text, unit string) (float64, error) {
	text = strings.TrimSpace(strings.TrimSuffix(strings.ToUpper(text), unit))
	text = strings.TrimSpace(strings.TrimSuffix(text, "°"))
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return math.NaN(), fmt.Errorf("%q is no temperature: %w", text, err)
	}
	return v, nil
}

// Yes asks a question that is answered with y or n. Enter alone is no.
func (t *Session) Yes(question string) (bool, error) { return t.choose(question+" [y/N]", false) }

// YesUnlessRefused asks a question that is answered with y or n. Enter alone is yes.
func (t *Session) YesUnlessRefused(question string) (bool, error) {
	return t.choose(question+" [Y/n]", true)
}

// choose asks until the answer is y, n or nothing, which is the usual answer.
func (t *Session) choose(question string, usual bool) (bool, error) {
	for {
		answer, err := t.Ask(question)
		if err != nil {
			return false, err
		}
		switch strings.ToLower(answer) {
		case "y", "yes":
			return true, nil
		case "n", "no":
			return false, nil
		case "":
			return usual, nil
		}
		t.Say("%q is neither y nor n.", answer)
	}
}
