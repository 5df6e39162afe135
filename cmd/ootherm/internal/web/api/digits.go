package api

import (
	"math"
	"strconv"
)

// digitsShown is how many significant digits a figure of the state has (our choice): a computed
// one has 17, and no probe tells more than five.
const digitsShown = 9

// shortFigures gives JSON with its figures rounded to [digitsShown]. Texts stay as they are.
func shortFigures(text []byte) []byte {
	short := make([]byte, 0, len(text))
	for i := 0; i < len(text); {
		end := i + 1
		switch c := text[i]; {
		case c == '"':
			for end < len(text) && text[end] != '"' {
				if text[end] == '\\' {
					end++
				}
				end++
			}
			end = min(end+1, len(text))
			short = append(short, text[i:end]...)
		case c == '-' || c >= '0' && c <= '9':
			for end < len(text) && isOfNumber(text[end]) {
				end++
			}
			short = appendShort(short, text[i:end])
		default:
			short = append(short, c)
		}
		i = end
	}
	return short
}

// isOfNumber reports whether a byte may be inside a number of JSON (RFC 8259 section 6).
func isOfNumber(c byte) bool {
	return c >= '0' && c <= '9' || c == '.' || c == 'e' || c == 'E' || c == '+' || c == '-'
}

// appendShort appends a number, rounded where that makes it shorter. A whole number stays.
func appendShort(b, number []byte) []byte {
	v, err := strconv.ParseFloat(string(number), 64)
	if err != nil || v == math.Trunc(v) {
		return append(b, number...)
	}
	if short := strconv.AppendFloat(nil, v, 'g', digitsShown, 64); len(short) < len(number) {
		v, _ = strconv.ParseFloat(string(short), 64) // it was written just now
		return strconv.AppendFloat(b, v, 'g', -1, 64)
	}
	return append(b, number...)
}
