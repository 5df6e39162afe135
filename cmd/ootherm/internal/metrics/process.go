package metrics

import (
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
)

// process exposes the figures of the station's process, without those of its network: the
// kernel counts the bytes of the whole machine there.
type process struct{ all prometheus.Collector }

func newProcess() process {
	return process{collectors.NewProcessCollector(collectors.ProcessCollectorOpts{})}
}

func (p process) Describe(into chan<- *prometheus.Desc) {
	forward(p.all.Describe, func(d *prometheus.Desc) *prometheus.Desc { return d }, into)
}

func (p process) Collect(into chan<- prometheus.Metric) {
	forward(p.all.Collect, prometheus.Metric.Desc, into)
}

// forward passes on what is not of the network.
func forward[T any](from func(chan<- T), desc func(T) *prometheus.Desc, into chan<- T) {
	all := make(chan T)
	go func() { defer close(all); from(all) }()
	for x := range all {
		if !strings.Contains(desc(x).String(), `"process_network_`) {
			into <- x
		}
	}
}
