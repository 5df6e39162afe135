package incident

import (
	"context"
	"fmt"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/response"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// A jump leads to an alarm that begins within an hour after it. It takes some minutes more to
// see that the temperature is level after it (our choice).
const jumpBeforeAlarm, jumpSeenAfter = time.Hour, 20 * time.Minute

// jumps are the jumps of a zone's probes that led to alarms of its temperature, in the order of
// the probes.
func (q Query) jumps(ctx context.Context, z plan.Zone, alarms []snapshot.PastAlarm) ([]snapshot.Jump, error) {
	all := []snapshot.Jump{}
	for _, a := range alarms {
		side := alert.Kind(a.Alarm).Side()
		if a.Zone == nil || *a.Zone != z.Name || side != alert.TooCold && side != alert.TooWarm {
			continue
		}
		probes := z.Probes
		if a.Probe != nil && !slices.Contains(probes, *a.Probe) {
			probes = append(slices.Clone(probes), *a.Probe)
		}
		for _, probe := range probes {
			j, found, err := q.jump(ctx, probe, a.Began, side == alert.TooWarm)
			if err != nil {
				return nil, fmt.Errorf("reading what %s did: %w", probe, err)
			}
			same := func(o snapshot.Jump) bool { return o.Probe == probe && o.At.Sub(j.At).Abs() < jumpSeenAfter }
			if found && !slices.ContainsFunc(all, same) {
				all = append(all, j)
			}
		}
	}
	return all, nil
}

// jump is the last jump of a probe to a side around a time; false where there is none.
func (q Query) jump(ctx context.Context, probe string, around time.Time, up bool) (j snapshot.Jump, found bool, err error) {
	var r response.Response
	for p, err := range q.Readings([]string{probe}, around.Add(-jumpBeforeAlarm), earlier(q.To, around.Add(jumpSeenAfter))) {
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return snapshot.Jump{}, false, err
		}
		r.Observe(p.At, p.Celsius)
		if step, ok := r.Step(p.At); ok && up == (step.Kelvin > 0) {
			j, found = snapshot.Jump{Probe: probe, At: step.At, Kelvin: step.Kelvin}, true
		}
	}
	return j, found, nil
}
