package words

import "strings"

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

// Lower writes the first letter small.
func Lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// OrEmpty gives the text, or the empty text for nil.
func OrEmpty(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// NotKnownYet says what a season's shares leave out: eggs of clutches that wait, eggs without a
// verdict, and hatchlings younger than 14 days.
func NotKnownYet(waiting, unjudged, young int) (all []string) {
	if waiting > 0 {
		all = append(all, Count(waiting, "egg", "eggs")+" of unfinished clutches: left out of \u201cHatched\u201d")
	}
	if unjudged > 0 {
		all = append(all, Count(unjudged, "egg", "eggs")+" with no verdict: neither fertile nor not")
	}
	if young > 0 {
		all = append(all, Count(young, "hatchling", "hatchlings")+" younger than 14 days")
	}
	return all
}
