// Package cycle knows the cycle of a zone's thermostat and notices when it stops. A heater that
// dies is seen so when the temperature falls on where it always turned; one that does not stop
// when it rises on. Both come before the drift of [alert.Drift] where the cycle is slow, since
// that has to average over it.
//
// What it learns is how long a fall lasts, where it turns, and how fast it is. The time constant
// of a zone does not follow from a cycle of less than a kelvin: a straight line and the first
// part of an exponential are alike there. So the fall is projected by its rate.
//
// A cycle must be evident: three in four of the last twelve are alike in period, swing and lower
// turn. Without one, nothing here changes what [alert.Drift] calls. It is not evident where the
// swing is two steps of the probe, nor where a period has less than four polls.
//
// On 48 made-up incubators (TestDeadHeater; 1,419 heaters that die at any phase, and as many
// that do not stop) the mean lead grows from 39.0 to 43.7 min of 109, and from 34.8 to 37.6 of
// 89. One in four is called by the cycle first. In 384 months without a failure, with doors, a
// night setback and changes of the set point by 0.3 K, the cycle makes one call that the drift
// alone does not; with changes of the set point by a third of the way to the limit ten more in 96
// months, where the drift makes 120 (TestRunningHeater, OOTHERM_FULL=1).
package cycle
