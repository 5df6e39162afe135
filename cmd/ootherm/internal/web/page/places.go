package page

import ()

// placeView is one of the places of the navigation.
type placeView struct{ Key, Href, Text, Icon string }

// places are the parts of the page that every page leads to.
func (s *Site) places() (all []placeView) {
	all = append(all,
		placeView{"today", "/", "Today", "M0-9C4.4-9 7-2 7 2A7 7 0 0 1-7 2C-7-2-4.4-9 0-9Z"},
		placeView{"boxes", "/medium", "Boxes", "M-11-7V7H11V-7M0 0V7M-11 0H11"})
	if s.Book != nil && s.Writer != nil {
		all = append(all, placeView{"note", "/note", "Note", "M-9 0H9M0-9V9"})
	}
	if s.Book != nil {
		all = append(all, placeView{"season", "/review", "Season", "M-11-7H11M-11 0H11M-11 7H11M-4-10V-4M5-3V3M-1 4V10"})
	}
	return append(all, placeView{"more", "/more", "More", "M-9 0H-8.9M0 0H.1M9 0H9.1M-9-1V1M0-1V1M9-1V1"})
}
