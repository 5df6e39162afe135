package thermal

import "time"

// Sample is one believed temperature.
type Sample struct {
	At      time.Time
	Celsius float64
}

// Gap is a span in which nothing was measured, and the temperatures on either
// side of it (NaN where there was none).
type Gap struct {
	From, To      time.Time
	Before, After float64
}

// Rate is a model of development: the share of development a day at a constant
// temperature.
type Rate interface{ PerDay(celsius float64) float64 }
