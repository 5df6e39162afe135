package notice

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// humidityTrendHeadline says on which day the limit is passed.
func humidityTrendHeadline(c *composer, e alert.Event, h *head) {
	if x := c.Alarms[e.Key].Humidity; x != nil {
		h.says(h.wrong + ": " + c.r.Humidity(x.Limit) + " about " + c.r.Date(x.At))
	}
}

func humidityTrendDetail(c *composer, e alert.Event) []string {
	x := c.Alarms[e.Key].Humidity
	if x == nil {
		return nil
	}
	return []string{HumidityTrend(*x, e.At, c.r)}
}

// HumidityTrend says how the humidity goes over days, and when it passes its limit.
func HumidityTrend(x daily.Coming, at time.Time, r words.Reader) string {
	way := "falls"
	if x.PerDay > 0 {
		way = "rises"
	}
	return fmt.Sprintf("The humidity %s by %.1f %% a day for %s, to %s yesterday. As it goes, it passes %s about %s, in %s.",
		way, 100*math.Abs(x.PerDay), words.Count(x.Days, "day", "days"), r.Humidity(x.Now), r.Humidity(x.Limit), r.Date(x.At), words.Span(x.At.Sub(at)))
}
