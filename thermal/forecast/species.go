package forecast

import (
	"math"

	"example.com/ootherm/thermal"
)

// kind is a species in this house, and where its rate is linearised.
type kind struct {
	name    string
	prior   thermal.Belief
	apart   bool // its development is arrested at first: its days are no measure of the house
	mean    [3]float64
	spread  [3][3]float64
	at      thermal.Belief // the prior with the slope and the bend of the linearisation
	sum     *thermal.Summation
	days    map[dayKey]thermal.Sum
	first   int // its level among the globals
	hatched int // eggs of it that hatched here
}

// linearise moves the rate to a slope and a bend.
func (x *kind) linearise(slope, bend float64) {
	x.at = x.prior
	x.at.Slope, x.at.Bend = math.Max(slope, leastSlope), math.Max(bend, leastBend)
	x.sum, x.days = x.at.Summation(), map[dayKey]thermal.Sum{}
}

// The least slope and bend of a linearisation keep the rate a rising curve.
const (
	leastSlope = 0.01   // a kelvin
	leastBend  = 0.0005 // a square kelvin
)

// deviation is a log heat as a deviation of the need from what is published, along a row.
func (x *kind) deviation(log, slope, bend float64) float64 {
	return log - slope*(x.at.Slope-x.mean[1]) - bend*(x.at.Bend-x.mean[2]) - x.mean[0]
}

// allowed is the standard deviation of the log need of one egg by what is published. Only
// the level counts: it is a limit for slips of the pen.
func (x *kind) allowed() float64 {
	return math.Sqrt(x.spread[0][0] + thermal.HouseSD*thermal.HouseSD + thermal.EggSD*thermal.EggSD)
}
