package alarmpages

import (
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Worst leaves of alarms of one zone and one side that overlapped the worst, with the time of
// them all: they tell of one failure. The order of their begins stays.
func Worst(alarms []snapshot.PastAlarm) (kept []snapshot.PastAlarm) {
	all := slices.Clone(alarms)
	slices.SortStableFunc(all, func(a, b snapshot.PastAlarm) int { return a.Began.Compare(b.Began) })
	for _, a := range all {
		i := slices.IndexFunc(kept, func(k snapshot.PastAlarm) bool {
			return words.Alarm(k.Alarm).Shape == words.Alarm(a.Alarm).Shape && words.OrEmpty(k.Zone) == words.OrEmpty(a.Zone) && (k.Ended == nil || !a.Began.After(*k.Ended))
		})
		if i < 0 {
			kept = append(kept, a)
			continue
		}
		k := kept[i]
		if worse(a, k) {
			k, a = a, k
			k.Began = a.Began
		}
		if k.Ended != nil && (a.Ended == nil || a.Ended.After(*k.Ended)) {
			k.Ended = a.Ended
		}
		kept[i] = k
	}
	return kept
}

// worse reports whether an alarm says more of a failure than another: by its priority, then by
// having a figure.
func worse(a, b snapshot.PastAlarm) bool {
	rank := func(x snapshot.PastAlarm) int {
		return slices.Index([]string{"notice", "warning", "critical"}, x.Priority)
	}
	if rank(a) != rank(b) {
		return rank(a) > rank(b)
	}
	return a.Peak != nil && b.Peak == nil
}
