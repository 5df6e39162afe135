package forecast

import "example.com/ootherm/thermal/track"

// bias is a source of temperatures and how much of a group's time it measured.
type bias struct {
	src   track.Source
	share float64
	error float64 // K, one standard deviation of its bias
}

// biases are those of a group, the present source first.
func (k *knowledge) biases(g *track.Group) []bias {
	now := k.Now
	all := []bias{{src: sourceOf(g)}}
	var sum float64
	for _, s := range g.Stays {
		to := s.To
		if to.IsZero() || to.After(now) {
			to = now
		}
		days := to.Sub(s.From).Hours() / 24
		if !(days > 0) {
			continue
		}
		sum += days
		src, found := track.SourceOf(s), false
		for i := range all {
			if all[i].src == src {
				all[i].share += days
				found = true
			}
		}
		if !found {
			all = append(all, bias{src: src, share: days})
		}
	}
	for i := range all {
		all[i].error = k.probeError(all[i].src)
		if sum > 0 {
			all[i].share = rounded(all[i].share/sum, 0.01)
		}
	}
	if sum == 0 {
		all[0].share = 1
	}
	return all
}
