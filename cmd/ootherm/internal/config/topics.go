package config

import (
	"net/url"
	"strings"
	"time"
)

// topics reads the topics of a broker that give a probe's values.
func (t probeSection) topics() *Topics {
	p := &Topics{
		URL: broker(t.table, "url"), Topic: t.text("topic"), HumidityTopic: t.text("humidity_topic"),
		Temperature: t.text("temperature"), Humidity: t.text("humidity"), Time: t.text("time"),
		Fahrenheit: t.choice("units", "celsius", "fahrenheit") == "fahrenheit", Percent: t.boolean("percent"),
		MaxAge: t.between("max_age", defaultMaxAge, time.Second, maxSpan),
	}
	p.User, p.PasswordFile = login(t.table)
	p.CAFile = certificates(t.table, strings.HasPrefix(p.URL, "mqtt:"))
	if p.URL != "" && t.node.find("topic") == nil {
		t.missing("topic", `say under which topic it is published: topic = "hub/shelf"`)
	}
	for key, topic := range map[string]string{"topic": p.Topic, "humidity_topic": p.HumidityTopic} {
		if strings.ContainsAny(topic, "+#") {
			t.fault(key, "%q has a wildcard in it; write one topic", topic)
		}
	}
	if p.Humidity != "" && p.Temperature == "" && p.HumidityTopic == "" {
		t.missing("temperature", "humidity is a field of an object: name the field of the temperature too")
	}
	if p.Time != "" && p.Temperature == "" && p.Humidity == "" {
		t.fault("time", "is a field of an object, and a plain number has none; name the field of the temperature with temperature, or remove this line")
	}
	return p
}

// broker reads the address of an MQTT broker. It must not hold a user or a password.
func broker(t *table, name string) string {
	s := t.text(name)
	if s == "" {
		return ""
	}
	u, err := url.Parse(s)
	switch {
	case err != nil || u.Scheme != "mqtt" && u.Scheme != "mqtts" || u.Host == "":
		t.fault(name, `is not a broker's address; write "mqtt://host:1883" or "mqtts://host:8883"`)
	case u.User != nil:
		t.fault(name, "has a user in it; name the user with user and the password's file with password_file")
	}
	return s
}

// login reads a user and the file that holds the password.
func login(t *table) (user, passwordFile string) {
	user, passwordFile = t.text("user"), t.text("password_file")
	if user != "" && t.node.find("password_file") == nil {
		t.missing("password_file", "a user has a password: name the file that holds it")
	}
	if passwordFile != "" && t.node.find("user") == nil {
		t.missing("user", "a password belongs to a user: name the user")
	}
	return user, passwordFile
}

// certificates reads the file of certificates that vouch for the other side.
func certificates(t *table, plain bool) string {
	file := t.text("ca_file")
	if file != "" && plain {
		t.fault("ca_file", "applies to a connection with TLS, and this one has none; write url as https:// or mqtts://, or tls as \"starttls\", or remove this line")
	}
	return file
}
