package alert

import "time"

// Learned reports whether the drift has seen enough to foretell anything: until then there is
// no early warning.
func (d *Drift) Learned() bool { return d.spans[0].all.n > minChanges }

// LearningUntil is when the drift will have learned enough, if readings come from now on.
func (d *Drift) LearningUntil(now time.Time) time.Time {
	left := minChanges + 1 - int(d.spans[0].all.n)
	if d.begun {
		left += max(0, driftSpans[0]-1-int(d.last-d.first))
	} else {
		left += driftSpans[0]
	}
	return binEnd(now.Unix()/binSeconds + int64(max(0, left)) - 1)
}
