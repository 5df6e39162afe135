package words

import "strings"

// SubjectRunes is the number of characters of a subject that a lock screen shows (our
// choice).
const SubjectRunes = 40

// Headline gives a message's subject: the shape, the place and the fault. A long place is
// cut, so that the first [SubjectRunes] characters hold the whole fault.
func Headline(shape, place, wrong string) string {
	room := SubjectRunes - len([]rune(shape)) - len([]rune(wrong)) - 2
	name := []rune(strings.ToUpper(place))
	if room = max(room, 4); len(name) > room {
		name = append(name[:room-1], '…')
	}
	return shape + " " + string(name) + " " + wrong
}

// List joins names with commas; without names it is "none".
func List(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

// Capital gives a text with its first letter in upper case.
func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// OrEmpty gives the text, or the empty text for nil.
func OrEmpty(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
