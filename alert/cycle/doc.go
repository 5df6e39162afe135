// Package cycle learns the cycle of a zone's thermostat and notices when it stops. When a heater
// dies, the temperature falls on past the level where it always turned. When a heater sticks, the
// temperature rises on past its upper turn. Where the cycle is slow, both show before
// [alert.Drift] calls, since a drift averages over the cycle.
//
// The package learns how long a fall lasts, where it turns, and how fast it is. It does not learn
// the time constant of a zone: within a cycle of less than a kelvin, a straight line and the
// first part of an exponential look alike. So a fall is projected by its rate.
//
// A cycle must be evident: of the last twelve, three in four are alike in period, swing and lower
// turn. Without an evident cycle this package does not change what [alert.Drift] calls. A cycle
// is not evident where the swing is two steps of the probe, or where a period has fewer than
// four polls.
//
// On 48 made-up incubators (TestDeadHeater; 1,419 heaters that die at any phase, and as many
// that stick) the mean lead grows from 39.0 to 43.3 min of 109, and from 34.8 to 37.5 min of 89.
// The cycle is the first to call one in four or five. In 384 months without a failure, with doors,
// a night setback and changes of the set point by 0.3 K, the cycle makes no call that the drift
// alone does not make. With changes of the set point by a third of the way to the limit it makes
// ten more in 96 months, where the drift makes 120 (TestRunningHeater, OOTHERM_FULL=1).
//
// A fall 1.6 times as fast as usual is taken for a door. With 2.0 the leads are 43.7 and 37.6
// min, and 120 made-up zones with doors, sun and weather have 1.11 and 1.53 false calls in 30 days
// instead of 1.09 and 1.45 (alert/backtest, TestMadeZones); the drift alone has 1.09 and 1.19.
package cycle
