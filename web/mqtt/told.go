package mqtt

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"maps"
	"strconv"
	"strings"

	"tared/session"
	"tared/session/text"
)

// message is one that is told.
type message struct {
	topic   string
	payload []byte
	live    bool // it is told anew every so often, and expires
}

// benchTold is what a bench does.
type benchTold struct {
	State     string  `json:"state"`
	Batch     *string `json:"batch"` // mark of the batch in work; null: none is
	Done      int     `json:"done"`
	Of        int     `json:"of"`
	Asked     *string `json:"asked"` // the question that waits; null: none does
	Recording bool    `json:"recording"`
}

// scaleTold is what a scale shows.
type scaleTold struct {
	Weight  *json.Number `json:"weight"` // with the digits that it shows; null: nothing that counts
	Unit    string       `json:"unit"`
	Settled bool         `json:"settled"`
	Link    string       `json:"link"` // waiting, up, lost
}

// messages are all that is to be told of a bench.
func (p *Publisher) messages(v session.View) (all []message) {
	bench := benchTold{State: v.Now.State, Recording: v.Recording.OK}
	if v.Batch != nil {
		bench.Batch, bench.Done, bench.Of = &v.Batch.Mark, v.Batch.Done, len(v.Batch.Steps)
	}
	if v.Asked != nil {
		bench.Asked = &v.Asked.Question
	}
	at := p.topic("bench")
	all = append(all, p.described("state", "sensor", text.New("mqtt.state"), at, "state", nil),
		p.described("batch", "sensor", text.New("page.title.batch"), at, "batch", nil),
		p.described("recording", "binary_sensor", text.New("mqtt.not-recording"), at, "recording", map[string]any{"device_class": "problem", "payload_on": "False", "payload_off": "True"}),
		told(at, bench))
	for _, s := range v.Scales {
		if s.Eye {
			continue
		}
		name := safe(s.Name)
		at := p.topic("scale/" + name)
		shows := scaleTold{Unit: s.Unit, Settled: s.Settled, Link: s.Link}
		if _, err := strconv.ParseFloat(s.Shows, 64); err == nil && s.Link == "up" && s.Status == "ok" {
			n := json.Number(strings.TrimPrefix(s.Shows, "+"))
			shows.Weight = &n
		}
		more := map[string]any{"device_class": "weight", "state_class": "measurement"}
		if s.Unit != "" {
			more["unit_of_measurement"] = s.Unit
		}
		all = append(all, p.described("scale_"+name, "sensor", text.New("mqtt.scale", text.Name("scale", s.Name)), at, "weight", more), told(at, shows))
	}
	return all
}

func told(topic string, v any) message {
	b, _ := json.Marshal(v) // our own types, of texts and numbers
	return message{topic, b, true}
}

// described tells Home Assistant of one thing that can be shown: a field of what is told
// under a topic.
func (p *Publisher) described(id, kind string, name text.Message, topic, field string, more map[string]any) message {
	c := map[string]any{
		"name": p.Reader.Say(name), "unique_id": "tared_" + p.id + "_" + id, "object_id": "tared_" + p.id + "_" + id,
		"state_topic": topic, "value_template": "{{ value_json." + field + " }}", "expire_after": int(expiry.Seconds()),
		"availability_topic": p.topic("status"),
		"device":             map[string]any{"identifiers": []string{"tared_" + p.id}, "name": strings.TrimSpace("tared " + p.Sign), "sw_version": p.Version},
	}
	maps.Copy(c, more)
	b, _ := json.Marshal(c)
	return message{"homeassistant/" + kind + "/tared_" + p.id + "/" + id + "/config", b, false}
}

func (p *Publisher) topic(s string) string { return p.Broker.Prefix + "/" + p.id + "/" + s }

// safe is a name that can stand in a topic and in an id: where signs had to go, the
// beginning of a hash keeps it apart from others.
func safe(name string) string {
	out := strings.Map(func(r rune) rune {
		if r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '_'
	}, name)
	if out != name {
		sum := sha256.Sum256([]byte(name))
		out += "_" + hex.EncodeToString(sum[:3])
	}
	return out
}
