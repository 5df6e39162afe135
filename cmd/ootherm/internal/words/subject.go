package words

import "strings"

// SubjectRunes is the number of characters of a subject that a lock screen shows (our
// choice).
const SubjectRunes = 40

// Subject gives a message's subject: the shape, the place and the fault. A long place is
// cut, so that the first [SubjectRunes] characters hold the whole fault.
func Subject(shape, place, wrong string) string {
	room := SubjectRunes - len([]rune(shape)) - len([]rune(wrong)) - 2
	name := []rune(strings.ToUpper(place))
	if room = max(room, 4); len(name) > room {
		name = append(name[:room-1], '…')
	}
	return shape + " " + string(name) + " " + wrong
}
