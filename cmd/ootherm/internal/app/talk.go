package app

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// talk is a conversation with a person, or with a script.
type talk struct {
	ctx   context.Context // of the whole conversation: Ctrl-C ends it at any question
	want  chan struct{}
	lines chan answer
	out   io.Writer
	over  bool // the last answer was the last
}

type answer struct {
	line string
	err  error
}

// newTalk reads beside the conversation, since a read of a terminal does not heed
// a context.
func newTalk(ctx context.Context, in io.Reader, out io.Writer) *talk {
	t := &talk{ctx: ctx, want: make(chan struct{}), lines: make(chan answer), out: out}
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

// errNoAnswer is the end of the input before a question was answered.
const errNoAnswer = unable("the answers ended before the questions did; nothing was written")

func (t *talk) say(format string, a ...any) { fmt.Fprintf(t.out, format+"\n", a...) }

// ask asks for a line; empty is Enter alone.
func (t *talk) ask(question string) (string, error) {
	fmt.Fprint(t.out, question, ": ")
	if t.over {
		return "", errNoAnswer
	}
	select {
	case t.want <- struct{}{}:
	case <-t.ctx.Done():
		return "", errNoAnswer
	}
	select {
	case a := <-t.lines:
		t.over = a.err != nil
		switch {
		case a.err != nil && !errors.Is(a.err, io.EOF):
			return "", fmt.Errorf("app: reading the answer: %w", a.err)
		case a.err != nil && a.line == "":
			fmt.Fprintln(t.out)
			return "", errNoAnswer
		}
		return strings.TrimSpace(a.line), nil
	case <-t.ctx.Done():
		return "", errNoAnswer
	}
}

// yes asks a question that Enter alone answers with no.
func (t *talk) yes(question string) (bool, error) {
	for {
		answer, err := t.ask(question + " [y/N]")
		if err != nil {
			return false, err
		}
		switch strings.ToLower(answer) {
		case "y", "yes":
			return true, nil
		case "", "n", "no":
			return false, nil
		}
		t.say("%q is neither y nor n.", answer)
	}
}
