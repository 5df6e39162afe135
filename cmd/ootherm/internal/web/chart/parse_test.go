package chart

import (
	"encoding/xml"
	"errors"
	"html/template"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// shape is an element of a drawing.
type shape struct {
	name, class string
	attrs       map[string]string
	text        string
}

// parsed reads markup as XML, strictly, and refuses figures that are none.
func parsed(t *testing.T, h template.HTML) (all []shape) {
	t.Helper()
	if strings.Contains(string(h), "NaN") || strings.Contains(string(h), "Inf") || strings.Contains(string(h), "-0%") {
		t.Errorf("a figure that is none: %s", h)
	}
	d := xml.NewDecoder(strings.NewReader("<all>" + string(h) + "</all>"))
	var open []int
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all[1:]
		}
		if err != nil {
			t.Fatalf("%v in %s", err, h)
		}
		switch x := token.(type) {
		case xml.StartElement:
			s := shape{name: x.Name.Local, attrs: map[string]string{}}
			for _, a := range x.Attr {
				s.attrs[a.Name.Local] = a.Value
			}
			s.class = s.attrs["class"]
			open = append(open, len(all))
			all = append(all, s)
		case xml.CharData:
			all[open[len(open)-1]].text += string(x)
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
}

func classed(all []shape, class string) (found []shape) {
	for _, s := range all {
		if s.class == class {
			found = append(found, s)
		}
	}
	return found
}

func texts(all []shape) (found []string) {
	for _, s := range all {
		if s.name == "text" {
			found = append(found, s.text)
		}
	}
	return found
}

var numbers = regexp.MustCompile(`[MlzZ]|-?\d+`)

// corners are the absolute places of the path of a line or a spread, run by run.
func corners(t *testing.T, d string) (all [][][2]int) {
	t.Helper()
	tokens := numbers.FindAllString(d, -1)
	x, y := 0, 0
	for i, relative := 0, false; i < len(tokens); {
		switch tokens[i] {
		case "M", "l":
			relative = tokens[i] == "l"
			i++
		case "z":
			i++
			continue
		}
		a, err1 := strconv.Atoi(tokens[i])
		b, err2 := strconv.Atoi(tokens[i+1])
		if err1 != nil || err2 != nil {
			t.Fatalf("no places in %q", d)
		}
		i += 2
		if relative {
			x, y = x+a, y+b
		} else {
			x, y = a, b
			all = append(all, nil)
		}
		all[len(all)-1] = append(all[len(all)-1], [2]int{x, y})
	}
	return all
}
