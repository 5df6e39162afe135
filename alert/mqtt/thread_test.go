package mqtt_test

import (
	"bytes"
	"net"
	"slices"
	"testing"

	"github.com/eclipse/paho.golang/packets"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/mqtt"
)

// published is what a fake broker was given.
type published struct {
	topic    string
	episodes []string
	payload  []byte
}

// fakeBroker takes one connection, accepts everything, and gives what was published to it
// once its client has taken its leave.
func fakeBroker(t *testing.T) (address string, got <-chan []published) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	all := make(chan []published, 1)
	go func() {
		var heard []published
		defer func() { all <- heard }()
		c, err := l.Accept()
		if err != nil {
			t.Error(err)
			return
		}
		defer c.Close()
		for {
			p, err := packets.ReadPacket(c)
			if err != nil {
				return // the client hung up
			}
			switch x := p.Content.(type) {
			case *packets.Connect:
				_, err = packets.NewControlPacket(packets.CONNACK).WriteTo(c)
			case *packets.Publish:
				heard = append(heard, published{x.Topic, episodesOf(x), x.Payload})
				answer := packets.NewControlPacket(packets.PUBACK)
				answer.Content.(*packets.Puback).PacketID = x.PacketID
				_, err = answer.WriteTo(c)
			case *packets.Subscribe:
				answer := packets.NewControlPacket(packets.SUBACK)
				taken := answer.Content.(*packets.Suback)
				taken.PacketID, taken.Reasons = x.PacketID, make([]byte, len(x.Subscriptions))
				for i, s := range x.Subscriptions {
					if s.Topic == secretTopic {
						taken.Reasons[i] = packets.SubackNotauthorized
					}
				}
				_, err = answer.WriteTo(c)
			case *packets.Disconnect:
				return
			}
			if err != nil {
				t.Error(err)
				return
			}
		}
	}()
	return l.Addr().String(), all
}

// secretTopic is one to which the fake broker takes no subscription.
const secretTopic = "hub/secret"

func episodesOf(p *packets.Publish) (all []string) {
	for _, x := range p.Properties.User {
		if x.Key == "episode" {
			all = append(all, x.Value)
		}
	}
	return all
}

// A message is published by its priority, and once under the topic of each zone and side that
// it tells of; the topic stays the same from episode to episode.
func TestOneTopicForEachZoneAndSide(t *testing.T) {
	cold := alert.NewThread(alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: "egg/room"}, "egg/room", hot.At)
	dry := alert.NewThread(alert.Key{Kind: alert.HumidityLow, Priority: alert.Warning, Zone: "egg/room"}, "egg/room", hot.At)
	later := alert.NewThread(alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "egg/room"}, "egg/room", hot.At.AddDate(0, 0, 1))
	silent := alert.NewThread(alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: "egg/room", Probe: "air"}, "egg/room", hot.At)
	for _, x := range []struct {
		threads []alert.Thread
		want    []string
	}{
		{nil, []string{"eggs/critical"}},
		{[]alert.Thread{silent}, []string{"eggs/critical"}},
		{[]alert.Thread{cold}, []string{"eggs/critical", "eggs/episode/egg%2Froom/too-cold"}},
		{[]alert.Thread{later, cold, dry, silent}, []string{"eggs/critical", "eggs/episode/egg%2Froom/too-cold", "eggs/episode/egg%2Froom/too-dry"}},
	} {
		address, got := fakeBroker(t)
		m := hot
		m.Threads = x.threads
		if err := sender(t, mqtt.Config{URL: "mqtt://" + address, Topic: "eggs"}).Send(t.Context(), m); err != nil {
			t.Fatal(err)
		}
		var topics, ids []string
		for _, th := range x.threads {
			ids = append(ids, th.ID)
		}
		heard := <-got
		for _, p := range heard {
			topics = append(topics, p.topic)
			if !slices.Equal(p.episodes, ids) || !bytes.Equal(p.payload, heard[0].payload) {
				t.Errorf("%s: episodes %q", p.topic, p.episodes)
			}
		}
		if !slices.Equal(topics, x.want) {
			t.Errorf("topics %q, want %q", topics, x.want)
		}
	}
}
