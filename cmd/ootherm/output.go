package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// writeJSON prints a value as indented JSON.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// progressBar draws what share of the work is done.
func progressBar(w io.Writer) func(share float64) {
	const width = 40
	last := -1
	return func(share float64) {
		n := int(share * width)
		if n == last {
			return
		}
		last = n
		fmt.Fprintf(w, "\r[%s%s] %3.0f %%", strings.Repeat("#", n), strings.Repeat(".", width-n), share*100)
	}
}
