package main

import (
	"archive/zip"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"regexp"
	"strings"

	"tared/protocol"
	"tared/session/text"
)

// usualLine is a setting with which any serial port can be opened.
var usualLine = protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1}

// bundle writes what was found, the settings and what the scales sent into a new file, for
// whoever helps. Nothing of the record is in it, and the names of the machine, of its user
// and of the home directory are left out.
func (c *checkup) bundle(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return text.Refuse("checkup.bundle-there", text.Name("file", path))
	}
	if err != nil {
		return notWritten(path, err)
	}
	z := zip.NewWriter(f)
	put := func(name, words string) {
		if err == nil {
			w, e := z.Create(name)
			if err = e; err == nil {
				_, err = w.Write([]byte(nameless(words)))
			}
		}
	}
	found, e := json.MarshalIndent(struct {
		Edition edition   `json:"program"`
		Found   []finding `json:"found"`
	}{thisEdition(), c.found}, "", "  ")
	err = errors.Join(err, e)
	put("found.json", string(found))
	if b, e := os.ReadFile(findConfig(c.flags.Lookup("config").Value.String())); e == nil {
		put("tared.toml", string(b))
	}
	for i, text := range c.captures {
		put(fmt.Sprintf("capture-%d.txt", i+1), text)
	}
	err = errors.Join(err, z.Close(), f.Close())
	if err != nil {
		_ = os.Remove(path)
		return notWritten(path, err)
	}
	return nil
}

// nameless leaves the names of this machine and its user out of a text.
func nameless(words string) string {
	if home, err := os.UserHomeDir(); err == nil && len(home) > 1 {
		words = strings.ReplaceAll(words, home, "~")
	}
	out := func(name, instead string) {
		if len(name) > 1 && name != "root" && name != "tared" && name != "localhost" {
			words = regexp.MustCompile(`\b`+regexp.QuoteMeta(name)+`\b`).ReplaceAllString(words, instead)
		}
	}
	if u, err := user.Current(); err == nil {
		out(u.Username, "USER")
		for part := range strings.FieldsSeq(u.Name) {
			out(strings.Trim(part, ","), "NAME")
		}
	}
	if host, err := os.Hostname(); err == nil {
		out(host, "MACHINE")
	}
	return words
}
