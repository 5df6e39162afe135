package forecast

import "example.com/ootherm/thermal/track"

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

// probeError is how wrong a source may be throughout, in K. A calibration counts once it was
// there before the eggs that wait.
func (h House) probeError(src track.Source) float64 {
	if h.ProbeError == nil {
		return probeSD
	}
	since := h.Now
	for _, g := range h.Groups {
		if !g.Waiting {
			continue
		}
		for _, s := range g.Stays {
			if h.biased(track.SourceOf(s)) == src && s.From.Before(since) {
				since = s.From
			}
		}
	}
	if sd := h.ProbeError(src, since); sd > 0 {
		return sd
	}
	return probeSD
}

// errorOf is the probeError of a source, computed once.
func (k *knowledge) errorOf(src track.Source) float64 {
	sd, ok := k.errors[src]
	if !ok {
		sd = k.probeError(src)
		k.errors[src] = sd
	}
	return sd
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
