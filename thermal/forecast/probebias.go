package forecast

import (
	"time"

	"example.com/ootherm/thermal/track"
)

// biased is the source whose bias a source has: the temperature of a zone with one probe is
// as wrong as that probe.
func (h House) biased(src track.Source) track.Source {
	if src.Probe == "" && h.OnlyProbe != nil {
		if probe := h.OnlyProbe(src.Zone); probe != "" {
			return track.Source{Probe: probe}
		}
	}
	return src
}

// errorOf is how wrong a source may be throughout, in K. A calibration counts once it was there
// before the eggs that wait.
func (k *knowledge) errorOf(src track.Source) float64 {
	if k.ProbeError == nil {
		return probeSD
	}
	sd, known := k.errors[src]
	if !known {
		since, waits := k.since[src]
		if !waits {
			since = k.Now
		}
		if sd = k.ProbeError(src, since); !(sd > 0) {
			sd = probeSD
		}
		k.errors[src] = sd
	}
	return sd
}

// waitingSince is when the first of the eggs that wait came to each source.
func (h House) waitingSince() map[track.Source]time.Time {
	all := map[track.Source]time.Time{}
	for _, g := range h.Groups {
		if !g.Waiting {
			continue
		}
		for _, s := range g.Stays {
			src := h.biased(track.SourceOf(s))
			if at, ok := all[src]; !ok || s.From.Before(at) {
				all[src] = s.From
			}
		}
	}
	return all
}

// bias is a source of temperatures and how much of a group's time it measured. Sources with
// one bias are one.
type bias struct {
	src   track.Source
	share float64
	error float64 // K, one standard deviation of its bias
}

// biases are those of a group, the present source first.
func (k *knowledge) biases(g *track.Group) []bias {
	now := k.Now
	all := []bias{{src: k.biased(sourceOf(g))}}
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
		src, found := k.biased(track.SourceOf(s)), false
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
		all[i].error = k.errorOf(all[i].src)
		if sum > 0 {
			all[i].share = rounded(all[i].share/sum, 0.01)
		}
	}
	if sum == 0 {
		all[0].share = 1
	}
	return all
}
