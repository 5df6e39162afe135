package recording

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"
)

// table is a file of cells as spreadsheets write them: separated by commas, semicolons
// or tabs, with a mark of the encoding before them or without, and with a line that says
// what separates them (sep=;) or without.
type table struct {
	*csv.Reader
	header  []string
	skipped int // lines before the header
}

// mostHeader is how much of a file is looked at to tell its form (our choice).
const mostHeader = 64 << 10

// tabulate reads the header of a file. The name is for errors.
func tabulate(r io.Reader, name string) (*table, error) {
	in := bufio.NewReaderSize(r, mostHeader)
	line := firstLine(in)
	switch {
	case bytes.HasPrefix(line, []byte("\xff\xfe")), bytes.HasPrefix(line, []byte("\xfe\xff")):
		return nil, fmt.Errorf("%s: it is in UTF-16: save it as CSV in UTF-8", name)
	case bytes.HasPrefix(line, []byte("\ufeff")):
		_, _ = in.Discard(len("\ufeff")) // it is in the buffer
		line = firstLine(in)
	}
	t := &table{}
	comma := separator(line)
	if said := strings.TrimRight(string(line), "\r\n"); len(said) == len("sep=;") && strings.HasPrefix(said, "sep=") {
		_, _ = in.Discard(len(line))
		comma, t.skipped = rune(said[len("sep=")]), 1
		line = firstLine(in)
	}
	if at := bytes.IndexByte(line, '\r'); at >= 0 && at < len(bytes.TrimRight(line, "\r\n")) {
		return nil, fmt.Errorf("%s: its lines end in CR alone: save it with LF or CR LF", name)
	}
	t.Reader = csv.NewReader(in)
	t.Comma, t.ReuseRecord, t.TrimLeadingSpace = comma, true, comma != '\t' // which is a space itself
	header, err := t.Read()
	if err == io.EOF {
		return nil, fmt.Errorf("%s: the file is empty: it needs a header line", name)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: header: %w", name, err)
	}
	t.header = slices.Clone(header)
	for i := range t.header {
		t.header[i] = strings.TrimSpace(t.header[i])
	}
	return t, nil
}

// firstLine is the line that comes next, or as much of it as the buffer holds.
func firstLine(in *bufio.Reader) []byte {
	for n := 1; ; n++ {
		b, err := in.Peek(n)
		if err != nil || n == mostHeader {
			return b
		}
		b, _ = in.Peek(in.Buffered())
		if at := bytes.IndexByte(b, '\n'); at >= 0 {
			return b[:at+1]
		}
		n = max(n, in.Buffered())
	}
}

// separator is what separates the cells of a header: of the three, the one that it has
// most of outside quotes.
func separator(line []byte) rune {
	count := map[rune]int{}
	quoted := false
	for _, r := range string(line) {
		if r == '"' {
			quoted = !quoted
		}
		if !quoted {
			count[r]++
		}
	}
	best := ','
	for _, r := range []rune{';', '\t'} {
		if count[r] > count[best] {
			best = r
		}
	}
	return best
}

// Header is the names of a recording's columns.
func Header(r io.Reader, name string) ([]string, error) {
	t, err := tabulate(r, name)
	if err != nil {
		return nil, err
	}
	return t.header, nil
}
