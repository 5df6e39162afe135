package words

import "strings"

// SubjectRunes is how many characters of a subject a lock screen shows (our choice).
const SubjectRunes = 40

// Headline is a message's subject: the shape, the place and what is wrong there. The
// first [SubjectRunes] characters hold what is wrong whole; a long place is cut for it.
func Headline(shape, place, wrong string) string {
	room := SubjectRunes - len([]rune(shape)) - len([]rune(wrong)) - 2
	name := []rune(strings.ToUpper(place))
	if room = max(room, 4); len(name) > room {
		name = append(name[:room-1], '…')
	}
	return shape + " " + string(name) + " " + wrong
}

// List is names with commas between them, or "none".
func List(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

// Capital is a text with its first letter in upper case.
func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// OrEmpty is the text, or the empty text where there is none.
func OrEmpty(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
