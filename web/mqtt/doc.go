// Package mqtt tells a broker how a bench stands, by MQTT 5 (OASIS Standard, 7 March 2019),
// so that other programs of a house can show it.
//
// A Publisher looks at the bench once a second, in a goroutine of its own, and publishes what
// has changed; the bench does not know of it, and a broker that is slow, full or gone delays
// nothing. No name of a person and no material is told, since whoever may read from the broker
// reads it.
//
// Below a prefix, tared unless the address of the broker has another, and the fingerprint of
// the bench:
//
//   - status is online or offline; the broker itself says offline when the bench is gone;
//   - bench has what the bench does, scale/NAME what a scale shows. They are told anew every
//     twenty seconds, and expire after a minute: what is old is not there.
//
// Beside these the bench describes itself to Home Assistant, as its page "MQTT" has it
// (https://www.home-assistant.io/integrations/mqtt/, read from memory): under homeassistant/,
// one retained message for each thing that can be shown.
//
// Start with Publisher.
package mqtt
