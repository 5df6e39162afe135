// Package hindcast asks what the hatch model would have said of durations that
// are known: it predicts each one from others, never from itself, and counts how
// far off it was.
package hindcast
