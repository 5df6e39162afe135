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
