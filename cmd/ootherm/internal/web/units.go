package web

import (
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

const (
	unitsCookie = "ootherm-units"
	// A browser keeps no cookie for longer (RFC 6265bis section 5.6.2).
	unitsTime = 400 * 24 * time.Hour
)

// unitsOf are the units of a request's reader: those that the reader chose on this device,
// else the station's.
func unitsOf(r *http.Request, station words.Units) words.Units {
	if c, err := r.Cookie(unitsCookie); err == nil && known(words.Units(c.Value)) {
		return words.Units(c.Value)
	}
	if station == words.Fahrenheit {
		return station
	}
	return words.Celsius
}

func known(u words.Units) bool { return u == words.Celsius || u == words.Fahrenheit }

// because is what a window is based on. A line about the box names a difference in the
// station's units; the reader gets it in the reader's.
func (m clutchMaker) because(b snapshot.Box, c snapshot.Clutch) []string {
	lines, how := slices.Clone(c.Because), " warmer than "
	if b.Offset < 0 {
		how = " colder than "
	}
	for i, line := range lines {
		const lead = "by the book the box is "
		if _, than, ok := strings.Cut(line, how); ok && b.Offset != 0 && strings.HasPrefix(line, lead) {
			lines[i] = lead + m.Reader.Difference(math.Abs(b.Offset)) + how + than
		}
	}
	return lines
}

// chooseUnits keeps on the reader's device which units its pages have. The cookie also comes
// with a link from a message (SameSite=Lax): it opens nothing.
func chooseUnits(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, page.MaxForm)
	c := http.Cookie{Name: unitsCookie, Value: r.PostFormValue("units"), Path: "/", MaxAge: int(unitsTime / time.Second),
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil}
	switch {
	case c.Value == "station":
		c.Value, c.MaxAge = "", -1
	case !known(words.Units(c.Value)):
		http.Error(w, "Choose celsius, fahrenheit or station.", http.StatusBadRequest)
		return
	}
	http.SetCookie(w, &c)
	http.Redirect(w, r, "/more#units", http.StatusSeeOther)
}
