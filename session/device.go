package session

import (
	"slices"
	"strings"
	"time"

	"tared/session/fact"
	"tared/session/text"
)

// Device is a browser or a program that may command the bench from elsewhere.
type Device struct {
	ID      string    `json:"id"`
	Name    string    `json:"name"`
	From    string    `json:"from"`    // address that it came from
	Token   bool      `json:"token"`   // it is a program
	At      time.Time `json:"at"`      // it was paired
	By      string    `json:"by"`      // who paired it
	Revoked time.Time `json:"revoked"` // zero: it may
}

// devices are all that were ever paired, in that order.
type devices []Device

// Reads reports whether facts of a kind matter here.
func (all *devices) Reads(kind, _ string, _ time.Time, _ []byte) bool {
	return kind == (fact.Paired{}).Kind() || kind == (fact.Revoked{}).Kind()
}

// Add takes a device in, names it anew, or sends it away. One that was sent away never comes
// back: it is paired as another.
func (all *devices) Add(f fact.Fact) {
	at := func(id string) int {
		return slices.IndexFunc(*all, func(d Device) bool { return d.ID == id })
	}
	switch v := f.Body.(type) {
	case fact.Paired:
		*all = slices.Clone(*all)
		if k := at(v.Device); k >= 0 {
			(*all)[k].Name = v.Name
			return
		}
		*all = append(*all, Device{ID: v.Device, Name: v.Name, From: v.From, Token: v.Token, At: f.At, By: f.By})
	case fact.Revoked:
		*all = slices.Clone(*all)
		if k := at(v.Device); k >= 0 && (*all)[k].Revoked.IsZero() {
			(*all)[k].Revoked = f.At
		}
	}
}

// May are those that may command.
func (all devices) May() []Device {
	return slices.DeleteFunc(slices.Clone(all), func(d Device) bool { return !d.Revoked.IsZero() })
}

// DeviceRequest is what becomes of a device.
type DeviceRequest struct {
	Device string `json:"device"` // its id; empty: a new one is made
	Name   string `json:"name"`   // that it gets; empty: it is sent away
	By     string `json:"by"`
	From   string `json:"from"`  // address of a new one
	Via    string `json:"via"`   // name of the device that did it
	Token  bool   `json:"token"` // a new one is a program
}

// body is the fact that a request is; fresh is the id of a new device.
func (all devices) body(r DeviceRequest, fresh string) (fact.Body, error) {
	if err := written(r); err != nil {
		return nil, err
	}
	if err := words(text.New("field.name-of-the-device"), r.Name, 60); err != nil {
		return nil, err
	}
	name := strings.Join(strings.Fields(r.Name), " ")
	k := slices.IndexFunc(all, func(d Device) bool { return d.ID == r.Device && d.Revoked.IsZero() })
	switch {
	case r.Device != "" && k < 0:
		return nil, text.Refuse("device.none", text.Name("device", r.Device))
	case name != "" && slices.ContainsFunc(all.May(), func(d Device) bool { return d.ID != r.Device && strings.EqualFold(d.Name, name) }):
		return nil, text.Refuse("device.twice", text.Name("device", name))
	case r.Device == "" && name == "":
		return nil, text.Refuse("device.name")
	case r.Device == "":
		return fact.Paired{Device: fresh, Name: name, From: r.From, Via: r.Via, Token: r.Token}, nil
	case name == "":
		return fact.Revoked{Device: r.Device, Name: all[k].Name, Via: r.Via}, nil
	}
	return fact.Paired{Device: r.Device, Name: name, Was: all[k].Name, Via: r.Via, Token: all[k].Token}, nil
}
