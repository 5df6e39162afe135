package sensor

import (
	"math"
	"time"
)

// Thresholds of a [Screen]. Those without a source are our choice, held by the
// test recordings: rooms, an incubator and buried nests, read every 30 s to
// every 90 min.
const (
	// The coldest and warmest that a reading may be: where the common parts stop
	// (data sheets of SHT3x, BME280, DHT22 for -40 C; of SHT3x, DS18B20, TMP117 for
	// 125 C, in round figures). A heater that burns the shelf must not be refused.
	minCelsius, maxCelsius = -40, 125

	// What a DS18B20 holds when power comes (0x0550; data sheet 19-7487, p. 4), to
	// the last bit, whichever way it was read: a genuine 84.9375 is none.
	powerOn = 85.0

	// Relative humidity outside these cannot be. SHT3x and SHT4x encode -6..119 %
	// (SHT4x data sheet, "conversion of signal output"); past 100 % is a normal sign
	// of a wet probe. The margin is our choice.
	minHumidity, maxHumidity = -0.1, 1.25

	// Air moves at most this far between two readings: an allowance for noise and
	// steps as coarse as 0.5 K, and a rate. Our choice: a shelf in the rooms took
	// 0.44 K in 30 s, an incubator 1.5 K in 5 min; a logger lifted out of its place
	// took 2.5 K in 5 min.
	jumpAllowance = 1.0  // K
	jumpRate      = 0.25 // K a minute

	// A suspect probe is believed again at its third good reading in a row (our
	// choice; it is the promise of three polls).
	goodAgain = 3

	// Saturated. Near saturation a capacitive part may read three points off, and
	// after 60 h above 80 % it reads up to three points high and recovers slowly
	// (from memory, of makers' notes): it tells of wetness and no longer how much.
	saturated = 0.97
	creeping  = 0.80
	creepsIn  = 60 * time.Hour

	// Stuck. A coarse probe in a still place repeats itself for days (in a nest,
	// 157 readings over 234 h at a step of 0.37 K), so both must hold: the run is
	// longer than the air needs to cross one step of this probe at stillRate, a
	// third of the slowest in the nests, and twenty times longer than any run of
	// this probe before, and never under a hundred readings. All our choice.
	stillRate = 0.0005 // K an hour
	stuckRuns = 20
	stuckMin  = 100
	// A probe finer than its own noise changes at most readings even in still
	// air. Its quietest block of readings so far gives the chance that a reading
	// repeats the one before; a run less likely than stuckChance is no chance.
	// Where humidity is measured too, and repeats too, half an hour is enough;
	// temperature alone must repeat for six hours.
	fineStep    = 0.03 // K
	blockSize   = 50   // readings
	blocksKnown = 20   // blocks before the quietest is trusted
	stuckChance = 1e-12
	fineBoth    = 30 * time.Minute
	fineAlone   = 6 * time.Hour
)

// Screen judges the readings of one probe, one after the other, and remembers
// what it needs for the next. The zero Screen has seen nothing.
type Screen struct {
	last, raw Reading // last believed, last within range (believed or not)
	known     bool    // last is set
	seen      bool    // raw is set
	suspect   Cause   // why the probe is not believed; empty when it is
	good      int     // good readings in a row since
	soaked    int     // readings in a row whose humidity cannot be
	failed    int     // reads in a row that failed
	damp      dampness
	habits    habits
}

// dampness is whether the humidity was above creeping at the last reading, and since when.
type dampness struct {
	damp  bool
	since Stamp
}

// habits are how long a probe repeats itself, how fine its steps are, and how often it
// changes when it is quiet.
type habits struct {
	since    Stamp   // first reading of the run of equal ones
	run      int     // readings in it
	longest  int     // longest run that ended
	step     float64 // smallest change of temperature seen, K; 0 is none yet
	block    int     // readings in this block
	changes  int     // of them, those that differed from the one before
	blocks   int     // whole blocks
	quietest int     // fewest changes in one
}

// Suspect is why the probe is not believed, or empty: it is set by a reading
// out of range, a humidity that cannot be, a jump, a stuck or a power-on value, or
// by three failed reads in a row, and cleared at the third good reading in a row.
// One or two failed reads alone do not set it: they are a bad contact or a bad
// frame, not a probe that was away.
func (s Screen) Suspect() Cause { return s.suspect }

// Last is the last reading that was believed.
func (s Screen) Last() (Reading, bool) { return s.last, s.known }

// Saturated reports whether the humidity is a sign of wetness rather than a
// measurement: near saturation, or high for so long that the part has crept. It
// is no fault, and in a closed egg box the rule.
func (s Screen) Saturated() bool {
	return s.known && (s.last.Humidity >= saturated ||
		s.damp.lasted(s.last.Stamp) >= creepsIn)
}

// Judge judges the probe's next reading, and gives it back with a Cause where it
// is not believed. The values stay as they are.
//
// A failed read stays failed. Refused are a temperature that is absent or not
// finite, or outside -40..125 C; exactly 85 C; a humidity that cannot be, and the
// temperature beside it; a temperature that changed faster than air can, and one
// that repeats itself for longer than the probe's own past allows. A probe is
// believed again at its third good reading in a row; the two before it are
// [Recovering] where they are as the last that was believed, and jumps where they
// are not, so that a true step is believed at the third that agrees. The first
// reading, or the first of a boot, has nothing to jump from.
//
// A part whose humidity cannot be for three readings in a row is broken in that
// alone: from then on its humidity is lacking, NaN, and its temperature is judged.
func (s *Screen) Judge(r Reading) Reading {
	told := r.Cause // by the driver; a value that is merely absent is no failed read
	absurd := !math.IsNaN(r.Humidity) && !(r.Humidity >= minHumidity && r.Humidity <= maxHumidity)
	if s.soaked++; !absurd {
		s.soaked = 0
	}
	switch {
	case r.Cause == "" && math.IsNaN(r.Celsius):
		r.Cause = NoAnswer
	case r.Cause == "" && r.Celsius == powerOn:
		r.Cause = PowerOn
	}
	if s.failed++; told == "" {
		s.failed = 0
	}
	switch {
	case r.Cause == PowerOn:
		s.suspect, s.good = PowerOn, 0
		return r
	case r.Cause != "": // failed: nothing to learn from
		s.good = 0
		if s.failed >= goodAgain && s.suspect == "" {
			s.suspect = r.Cause
		}
		return r
	case !(r.Celsius >= minCelsius && r.Celsius <= maxCelsius):
		s.suspect, s.good = Range, 0
		r.Cause = Range
		return r
	case absurd && s.soaked < goodAgain:
		s.suspect, s.good = Humid, 0
		r.Cause = Humid
		return r
	case absurd:
		r.Lacking = Fail(Humid, "a humidity of %.0f %% cannot be, and that three times in a row: its sense of it is broken, or the units are others", 100*r.Humidity)
		r.Humidity = math.NaN()
	}

	s.habits.learn(s.raw, s.seen, r)
	agrees := !s.seen || !jumped(s.raw, r)
	sound := !s.known || !jumped(s.last, r)
	s.raw, s.seen = r, true
	switch {
	case s.habits.stuck(r):
		s.suspect, s.good = Stuck, 0
	case s.suspect == "" && !sound:
		s.suspect, s.good = Jump, 1 // perhaps the first at a new level
	case s.suspect != "" && agrees:
		s.good++
	case s.suspect != "": // the first at another level, or the first back
		s.good = 1
	}
	if s.suspect != "" && s.good >= goodAgain {
		s.suspect, s.good = "", 0
	}
	switch {
	case s.suspect == "" || s.suspect == Stuck && s.good == 0:
		r.Cause = s.suspect
	case sound:
		r.Cause = Recovering
	default:
		r.Cause = Jump
	}
	if r.Cause == "" {
		s.last, s.known, s.damp = r, true, s.damp.after(r)
	}
	return r
}

// after is the dampness after a believed reading.
func (d dampness) after(r Reading) dampness {
	damp := r.Humidity > creeping
	if damp && (!d.damp || d.since.Boot != r.Boot) {
		d.since = r.Stamp
	}
	if !math.IsNaN(r.Humidity) {
		d.damp = damp
	}
	return d
}

// lasted is how long it has been damp at a time; less than zero where it is not, or where that
// is not known.
func (d dampness) lasted(at Stamp) time.Duration {
	if !d.damp || at.Boot != d.since.Boot {
		return -1
	}
	return at.Uptime - d.since.Uptime
}

// jumped reports whether the air cannot have gone from a to b in the time
// between. Across boots the time is not known, so anything may be.
func jumped(a, b Reading) bool {
	if a.Boot != b.Boot {
		return false
	}
	minutes := max(0, (b.Uptime - a.Uptime).Minutes())
	return math.Abs(b.Celsius-a.Celsius) > jumpAllowance+jumpRate*minutes
}

// learn takes a reading in range and the one before it, if there is one. The first of a boot
// begins a run.
func (h *habits) learn(before Reading, any bool, r Reading) {
	if !any || before.Boot != r.Boot {
		h.since, h.run = r.Stamp, 1
		return
	}
	if d := math.Abs(r.Celsius - before.Celsius); d > 0 && (h.step == 0 || d < h.step) {
		h.step = d
	}
	if same(before.Measurement, r.Measurement) {
		h.run++
	} else {
		h.longest = max(h.longest, h.run)
		h.since, h.run = r.Stamp, 1
		h.changes++
	}
	if h.block++; h.block == blockSize {
		// A block that a run has frozen says nothing of the probe's quietest
		// hours: it is what is being judged.
		if h.run < blockSize {
			if h.blocks == 0 || h.changes < h.quietest {
				h.quietest = h.changes
			}
			h.blocks++
		}
		h.block, h.changes = 0, 0
	}
}

// stuck reports whether the run of equal readings that ends with r is too long
// to be chance.
func (h habits) stuck(r Reading) bool {
	if h.step == 0 || h.run < 2 {
		return false // it never changed: nothing is known of its steps
	}
	lasted := r.Uptime - h.since.Uptime
	still := time.Duration(h.step / stillRate * float64(time.Hour))
	if h.run >= stuckMin && h.run >= stuckRuns*h.longest && lasted >= still {
		return true
	}
	if h.step > fineStep || h.blocks < blocksKnown || h.quietest == 0 {
		return false
	}
	least := fineAlone
	if moist(r.Humidity) {
		least = fineBoth
	}
	repeat := 1 - float64(h.quietest)/blockSize
	return lasted >= least && math.Pow(repeat, float64(h.run-1)) < stuckChance
}

// same reports whether two measurements have identical bits. A humidity at an end
// of its scale stays there for good reason and counts for nothing.
func same(a, b Measurement) bool {
	if math.Float64bits(a.Celsius) != math.Float64bits(b.Celsius) {
		return false
	}
	return !moist(a.Humidity) || !moist(b.Humidity) || math.Float64bits(a.Humidity) == math.Float64bits(b.Humidity)
}

// moist reports whether a humidity is measured and off the ends of its scale.
func moist(h float64) bool { return h > 0 && h < 1 }
