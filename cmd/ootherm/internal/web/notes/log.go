package notes

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
)

// Recent is an entry, and the form that undoes it: Mint is its key, At its time, Back the
// page that it leads back to. Without Mint nothing can be undone.
type Recent struct {
	Key, Mint, Text, When string
	At, Back              string
	Undone                bool
}

// Log is what was noted about a thing, the last first.
type Log struct {
	Noted   *Recent // what was noted just now
	Done    bool    // something was noted or undone just now
	Entries []Recent
}

// undone is what an address says was done where an entry was undone.
const undone = "undone"

// recent is how many entries a page of the book lists.
const recent = 20

func anything(book.Entry) bool { return true }

// LogOf lists the entries that are wanted. What a form made together is one of the list.
// Forms on it lead back to a page. Whoever may not write cannot undo.
func (s Pages) LogOf(r *http.Request, b *book.Book, back string, wanted func(book.Entry) bool) (v Log) {
	noting, asked := s.Writer != nil && s.Trusted(r), r.URL.Query()
	v.Done = asked.Has("noted")
	type dated struct {
		Recent
		entry book.Entry
	}
	var all []dated
	seen := map[string]bool{}
	for _, e := range slices.Backward(slices.Collect(b.Arrived())) {
		if e.Kind == book.KindVoid || !wanted(e) {
			continue
		}
		whole := forms.Whole(b, e)
		if seen[whole.Key] {
			continue
		}
		seen[whole.Key] = true
		_, by, _ := b.Entry(whole.Key)
		x := Recent{Key: whole.Key, Text: forms.SaidWhole(b, whole), When: s.Reader.When(whole.At, s.Clock()), Undone: by != ""}
		if noting {
			x.At, x.Back = page.Instant(s.Clock()), back
			x.Mint = undoKey(x.Key, x.At)
		}
		if v.Done && v.Noted == nil && !x.Undone && asked.Get("noted") != undone {
			v.Noted = &x
			continue
		}
		all = append(all, dated{x, whole})
	}
	slices.SortStableFunc(all, func(a, b dated) int { return b.entry.At.Compare(a.entry.At) })
	for _, x := range all {
		v.Entries = append(v.Entries, x.Recent)
	}
	return v
}

// undoKey is the key under which an entry is undone at a time. A page that is asked for twice
// in one moment is the same, so a browser that has it is not sent it again.
func undoKey(key, at string) string {
	sum := sha256.Sum256([]byte(key + " " + at))
	return "u-" + strings.ToLower(base32.StdEncoding.EncodeToString(sum[:10]))
}

// EarlierHref is the address of a page of all that was noted; the first is 1.
func EarlierHref(number int) string { return "/noted?page=" + strconv.Itoa(number) }

// logPage is a part of all that was noted.
type logPage struct {
	page.Frame
	Log
	Title        string
	Later, Older string // lead to the parts beside it; empty: there is none
}

// ServeLog shows all that was noted, a part at a time.
func (s Pages) ServeLog(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	number, err := strconv.Atoi(r.URL.Query().Get("page"))
	if err != nil || number < 1 {
		number = 1
	}
	v := logPage{Frame: s.Frame(n, "All that was noted"), Log: s.LogOf(r, b, "", anything)}
	v.Here = "note"
	all := len(v.Entries)
	parts := max(1, (all+recent-1)/recent)
	number = min(number, parts)
	v.Entries = v.Entries[(number-1)*recent : min(all, number*recent)]
	v.Title = fmt.Sprintf("All that was noted, part %d of %d", number, parts)
	if number > 1 {
		v.Later = EarlierHref(number - 1)
	}
	if number < parts {
		v.Older = EarlierHref(number + 1)
	}
	s.Render(w, http.StatusOK, "noted", v)
}
