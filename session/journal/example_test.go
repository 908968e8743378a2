package journal_test

import (
	"fmt"
	"os"
	"strings"
	"time"

	"tared/session/journal"
)

// Each line names the hash of the one before it, so a changed line shows.
func ExampleScan() {
	dir, err := os.MkdirTemp("", "journal")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	j, _, err := journal.Open(dir, journal.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	for _, g := range []string{"84.6", "12.5"} {
		if _, err := j.Append(at, "portion", "260302a", "scale", map[string]string{"g": g}); err != nil {
			fmt.Println(err)
		}
	}
	if err := j.Close(); err != nil {
		fmt.Println(err)
	}
	text, _ := os.ReadFile(j.Path())
	report, err := journal.Scan(strings.NewReader(string(text)), func(r journal.Record) error {
		fmt.Println(r.Seq, r.Kind, r.Batch)
		return nil
	})
	fmt.Println(report.Lines, err)
	_, err = journal.Scan(strings.NewReader(strings.Replace(string(text), "84.6", "94.6", 1)), nil)
	fmt.Println("changed:", err != nil)
	// Output:
	// 1 portion 260302a
	// 2 portion 260302a
	// 2 <nil>
	// changed: true
}

// Append gives the line only when it is on the disk.
func ExampleJournal_Append() {
	dir, _ := os.MkdirTemp("", "journal")
	defer os.RemoveAll(dir)
	j, report, err := journal.Open(dir, journal.Options{})
	fmt.Println(report.Lines, err)
	defer j.Close()
	r, err := j.Append(time.Now(), "noted", "260302a", "Mara", map[string]string{"text": "sieved twice"})
	fmt.Println(r.Seq, r.By, err)
	// A journal has one writer.
	_, _, err = journal.Open(dir, journal.Options{})
	fmt.Println("second:", err != nil)
	// Output:
	// 0 <nil>
	// 1 Mara <nil>
	// second: true
}
