package mqtt

import "time"

// SetWait has a test say when the next try is.
func SetWait(s *State, wait func(failed int) time.Duration) { s.wait = wait }
