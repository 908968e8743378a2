package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session"
	"tared/session/journal"
	"tared/web"
)

// installed installs a package on a bare machine: the older one where an upgrade is to come.
func installed(t *testing.T, h *house) {
	deb := "now"
	if h.chosen("upgraded") {
		deb = "before"
	}
	h.must("mkdir -p /debs && mount -o ro /dev/vdc /debs")
	t.Log(lastLine(h.must("dpkg -i /debs/" + deb + ".deb")))
	h.must("systemctl is-active tared")
	assert.Empty(t, h.must("systemd-analyze verify --man=no /usr/lib/systemd/system/tared.service"))
	said := h.must("systemd-analyze security --no-pager tared.service")
	m := regexp.MustCompile(`exposure level for \S+: ([0-9.]+)`).FindStringSubmatch(said)
	if assert.NotNil(t, m, said) {
		level, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		assert.LessOrEqual(t, level, 2.0, "systemd-analyze security")
		t.Logf("systemd-analyze security: %s", m[1])
	}
	status, page := fetch(t, h.url)
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, page, "<html")
}

// setUp plugs both scales in, and takes them into the settings as the card on the page of
// scales does.
func setUp(t *testing.T, h *house) {
	h.plug(h.bench, "1")
	h.plug(h.fine, "2")
	began := time.Now()
	var seen web.PortsView
	for talking := 0; talking < 2; time.Sleep(300 * time.Millisecond) {
		require.Less(t, time.Since(began), time.Minute, "two scales talk, and the page knows %+v\n%s", seen, h.log())
		_, body := h.ask("api/ports", "")
		require.NoError(t, json.Unmarshal([]byte(body), &seen), body)
		if !seen.Looking {
			h.ask("api/ports/look", "{}")
		}
		talking = 0
		for _, p := range seen.Ports {
			if p.Format != "" {
				talking++
			}
		}
	}
	t.Logf("two scales were known after %.1f s", time.Since(began).Seconds())
	for _, p := range seen.Ports {
		if p.Format == "" {
			continue // nothing talks there
		}
		name, step, most := "bench", "0.1g", "2000g"
		if p.Format == "letter-status" {
			name, step, most = "fine", "0.01g", "300g"
		}
		body, err := json.Marshal(web.TakePort{Port: p.Port, Name: name, Step: step, Max: most})
		require.NoError(t, err)
		// The page goes away for a moment when the settings before are taken up, and an older
		// package forgets what it heard; whoever is told so looks again.
		again := func(status int, said string) bool {
			return status == 0 || h.chosen("upgraded") && strings.Contains(said, `"ports.gone"`)
		}
		status, said := h.ask("api/ports/take", string(body))
		for again(status, said) && time.Since(began) < 2*time.Minute {
			h.ask("api/ports/look", "{}")
			time.Sleep(300 * time.Millisecond)
			status, said = h.ask("api/ports/take", string(body))
		}
		require.True(t, status > 0 && status < 300, said)
	}
	h.ready("both scales are set up")
	t.Logf("the settings are\n%s", h.must("cat /etc/tared/tared.toml"))
}

// weighed waits for the first batch that was mixed to its end.
func weighed(t *testing.T, h *house) {
	for began := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		h.told.Lock()
		done := h.told.finished
		h.told.Unlock()
		if done > 0 {
			return
		}
		require.Less(t, time.Since(began), 10*time.Minute, "no batch is finished\n%s", h.log())
	}
}

// replugged pulls leads out while hands work, and plugs them in at another port.
func replugged(t *testing.T, h *house) {
	ports := []string{"1", "2", "3", "4", "5", "6", "7", "8"}
	var slowest time.Duration
	for n := range often(t, "TARED_REPLUGS", 50) {
		c := h.bench
		if h.chance.rng.IntN(3) == 0 {
			c = h.fine
		}
		h.chance.wait(2 * time.Second)
		h.unplug(c)
		h.chance.wait(time.Second)
		var free []string
		for _, p := range ports {
			if p != h.bench.at && p != h.fine.at {
				free = append(free, p)
			}
		}
		began := time.Now()
		h.plug(c, free[h.chance.rng.IntN(len(free))])
		h.ready(fmt.Sprintf("replug %d", n+1))
		slowest = max(slowest, time.Since(began))
	}
	t.Logf("the slowest was heard again %.1f s after the plug", slowest.Seconds())
}

// forked asks of a hundred moments what the disk would hold if the power failed then:
// what a page had shown as taken is there, the chain holds. Half of them are in a sync.
func forked(t *testing.T, h *house) {
	disk := h.record
	var checks sync.WaitGroup
	defer checks.Wait()
	var inSync int
	for n := range often(t, "TARED_FORKS", 100) {
		h.chance.wait(1500 * time.Millisecond)
		var taken map[string]protocol.Mass
		var plate []byte
		fork := func() { taken, plate = h.takenNow(), disk.left(h.chance.rng) }
		disk.mu.Lock()
		if n%2 == 0 {
			fork()
			disk.mu.Unlock()
		} else {
			done := make(chan struct{})
			disk.onFlush = func() { fork(); close(done) }
			disk.mu.Unlock()
			select {
			case <-done:
			case <-time.After(2 * time.Minute):
				require.Fail(t, "nothing is written any more", h.stands())
			}
			inSync++
		}
		checks.Wait() // one at a time
		checks.Go(func() { h.holdsOn(t, plate, taken) })
	}
	t.Logf("%d moments, %d of them in a sync", often(t, "TARED_FORKS", 100), inSync)
}

// holdsOn looks at the record on a disk.
func (h *house) holdsOn(t *testing.T, plate []byte, taken map[string]protocol.Mass) {
	dir, err := os.MkdirTemp("", "fork-")
	if !assert.NoError(t, err) {
		return
	}
	defer os.RemoveAll(dir)
	image := filepath.Join(dir, "image")
	if !assert.NoError(t, os.WriteFile(image, plate, 0o600)) {
		return
	}
	// What the kernel does at the next start; 1 is "errors were corrected" (e2fsck(8)).
	out, err := exec.Command("e2fsck", "-fy", image).CombinedOutput()
	if code := exitOf(err); !assert.LessOrEqual(t, code, 1, "e2fsck: %s", out) {
		return
	}
	out, err = exec.Command("debugfs", "-R", "dump /"+journal.Name+" "+filepath.Join(dir, journal.Name), image).CombinedOutput()
	if !assert.NoError(t, err, string(out)) {
		return
	}
	_, err = journal.Read(dir, func(journal.Record) error { return nil })
	assert.NoError(t, err, "the chain holds")
	facts, err := factsIn(dir)
	assert.NoError(t, err)
	there := sums(facts)
	for at, m := range taken {
		assert.GreaterOrEqual(t, there[at], m, "%s was shown as taken, and is not on the disk", at)
	}
}

func exitOf(err error) int {
	if e, ok := err.(*exec.ExitError); ok {
		return e.ExitCode()
	}
	return 0
}

// powerCuts kills the machine while hands work, with what the cache of its disk held.
func powerCuts(t *testing.T, h *house) {
	for range often(t, "TARED_CUTS", 4) {
		h.chance.wait(8 * time.Second)
		taken := h.takenNow()
		cached := h.fails(h.chance)
		h.view.Store(nil)
		h.on()
		h.ready("after a power cut")
		h.fetchRecord()
		there := sums(h.facts())
		for at, m := range taken {
			assert.GreaterOrEqual(t, there[at], m, "%s was shown as taken, and is lost", at)
		}
		said, code := h.sh("tared verify --data /var/lib/tared")
		assert.Zero(t, code, said)
		t.Logf("%d blocks were in the cache of the disk", cached)
	}
}

// upgraded installs this version while a batch is open.
func upgraded(t *testing.T, h *house) {
	began := time.Now()
	var mark string
	for mark == "" {
		require.Less(t, time.Since(began), 2*time.Minute, "no batch is open")
		if v := h.view.Load(); v != nil && v.Batch != nil && v.Now.State != "finished" {
			mark = v.Batch.Mark
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Log(lastLine(h.must("mountpoint -q /debs || mount -o ro /dev/vdc /debs; dpkg -i /debs/now.deb")))
	h.ready("after the upgrade")
	v := h.view.Load()
	if assert.NotNil(t, v.Batch, "the batch is open still") {
		assert.Equal(t, mark, v.Batch.Mark)
	}
	assert.NotEmpty(t, h.must("tared version"))
}

// swapped lets two alike adapters change places. Their serial numbers say which scale is
// which: where these stay with their scales, so does all else; where they do not, or are the
// same, nothing is read rather than the wrong scale.
func swapped(t *testing.T, h *house) {
	change := func(bench, fine string) {
		h.unplug(h.bench)
		h.unplug(h.fine)
		h.bench.serial, h.fine.serial = bench, fine
		h.plug(h.bench, map[bool]string{true: "2", false: "1"}[h.bench.was == "1"])
		h.plug(h.fine, map[bool]string{true: "2", false: "1"}[h.bench.at == "1"])
	}
	change("BENCH1", "FINE2")
	h.ready("each adapter in the other's port")
	h.neverMixed(t, "changed ports")
	change("FINE2", "BENCH1")
	assert.Zero(t, h.neverMixed(t, "changed adapters"), "each scale on the other's adapter")
	assert.Contains(t, h.said("bench"), "is another scale on this cable?")
	change("SAME", "SAME")
	assert.Zero(t, h.neverMixed(t, "alike adapters"), "two adapters that no setting names")
	h.must("cp -p /etc/tared/tared.toml /root/kept.toml && sed -i s/BENCH1/SAME/ /etc/tared/tared.toml && systemctl restart tared")
	assert.Zero(t, h.neverMixed(t, "alike adapters, one set up"), "two adapters that the setting names")
	assert.Contains(t, h.said("bench"), "two devices are called so")
	h.must("cp -p /root/kept.toml /etc/tared/tared.toml && systemctl restart tared")
	change("BENCH1", "FINE2")
	h.ready("back in their own adapters")
}

// neverMixed looks for some seconds that no scale is taken for another, logs what is said of
// each, and tells how many are heard in the end.
func (h *house) neverMixed(t *testing.T, what string) (up int) {
	// The fine scale alone shows hundredths.
	digits := map[string]int{"bench": 1, "fine": 2}
	var v *session.View
	for began := time.Now(); time.Since(began) < 10*time.Second; time.Sleep(200 * time.Millisecond) {
		now := h.look()
		if now == nil {
			continue
		}
		v = now
		for _, s := range v.Scales {
			if s.Shows != "" {
				assert.Equal(t, digits[s.Name], massDigits(s.Shows), "%s: the wrong scale is taken for %s: %+v", what, s.Name, s)
			}
		}
	}
	require.NotNil(t, v, "%s: nobody answers", what)
	for _, s := range v.Scales {
		if s.Link == "up" {
			up++
		}
		t.Logf("%s: %s is %s: %s", what, s.Name, s.Link, s.Why)
	}
	return up
}

// said is why a scale is not heard.
func (h *house) said(name string) string {
	if v := h.look(); v != nil {
		for _, s := range v.Scales {
			if s.Name == name {
				return s.Why
			}
		}
	}
	return ""
}

// massDigits is how many digits stand behind the point.
func massDigits(shown string) int {
	number, _, _ := strings.Cut(shown, " ")
	_, behind, _ := strings.Cut(number, ".")
	return len(behind)
}

// compared holds the record of all batches against what really is in the bucket.
func compared(t *testing.T, h *house) {
	h.fetchRecord()
	got := runTared(t, "", "verify", "--data", h.workshop.dir)
	require.Equal(t, exitDone, got.code, got.err)
	in, n := map[string]protocol.Mass{}, map[string]int{}
	for at, m := range sums(h.facts()) {
		_, material, _ := strings.Cut(at, " ")
		in[material] += m
		n[material]++
	}
	for material, step := range map[string]float64{"Quartz": 0.1, "Copper carbonate": 0.01} {
		truth := h.world.Bucket(material)
		recorded := float64(in[material]) / float64(protocol.Gram)
		t.Logf("%s: %.2f g recorded in %d batches, %.2f g in the bucket", material, recorded, n[material], truth)
		// A few portions each of a few steps: what a weighing leaves open, added up.
		assert.InDelta(t, truth, recorded, 2*step*float64(n[material]*3), material)
	}
}

// full fills the disk of the record. What fits behind the last line of the record is taken
// still; the rest is refused, and what was said to be taken is there once there is room.
func full(t *testing.T, h *house) {
	h.sh("dd if=/dev/zero of=/var/lib/tared/filler bs=64k; sync; dd if=/dev/zero of=/var/lib/tared/filler2 bs=1k; sync")
	begin := func() (status int, said string) {
		return h.ask("api/start", `{"recipe":"Quartz 100\n","base":"20g","by":"Ilse"}`)
	}
	abandon := func() (status int, said string) {
		return h.ask("api/do", `{"word":"abandon","rest":"a trial of the disk","by":"Ilse"}`)
	}
	var marks []string
	for {
		require.Less(t, len(marks), 100, "batches begin on a full disk for ever")
		status, said := begin()
		if status >= 400 {
			t.Logf("after %d batches the page says: %s", len(marks), strings.TrimSpace(said))
			break
		}
		var made struct{ Mark string }
		require.NoError(t, json.Unmarshal([]byte(said), &made), said)
		marks = append(marks, made.Mark)
		if status, said = abandon(); status >= 400 {
			t.Logf("after %d batches the page says: %s", len(marks), strings.TrimSpace(said))
			break
		}
	}
	status, _ := fetch(t, h.url)
	assert.Equal(t, http.StatusOK, status, "the page is there still")
	h.must("rm /var/lib/tared/filler* && sync && systemctl restart tared")
	h.ready("with room again")
	said, code := h.sh("tared verify --data /var/lib/tared")
	assert.Zero(t, code, said)
	for _, mark := range marks {
		h.must("tared record " + mark + " --data /var/lib/tared >/dev/null")
	}
	if v := h.look(); v.Batch != nil && v.Now.State != "finished" {
		status, said = abandon()
		require.Less(t, status, 300, "what was open is closed: %s", said)
	}
	status, said = begin()
	assert.Less(t, status, 300, "a batch begins again: %s", said)
	status, said = abandon()
	assert.Less(t, status, 300, said)
}

// clockWrong starts the machine in 2020, as one without a battery does, and sets its clock
// right later.
func clockWrong(t *testing.T, h *house) {
	h.must("sync")
	h.off()
	h.view.Store(nil)
	h.on("-rtc", "base=2020-01-01T00:00:00")
	h.ready("with a wrong clock")
	// systemd sets a clock that is before its own making to that (systemd(1)).
	woke := strings.TrimSpace(h.must("date -Is"))
	said, _ := h.sh("tared checkup --data /var/lib/tared")
	t.Logf("it woke at %s, and the checkup says:\n%s", woke, said)
	assert.Contains(t, said, "the clock is behind the last line of the record")
	h.must(fmt.Sprintf("date -s @%d", time.Now().Unix()))
	for began := time.Now(); ; time.Sleep(200 * time.Millisecond) {
		if _, body := h.ask("api/view", ""); strings.Contains(body, `"fact.noticed-clock-on"`) {
			break
		}
		require.Less(t, time.Since(began), time.Minute, "the page should say that the clock was set")
	}
	said, code := h.sh("tared verify --data /var/lib/tared")
	assert.Zero(t, code, said)
}

// hidScale makes a USB scale without a serial port out of the kernel's own gadget, and a
// keyboard beside it: the one is heard, the other is nobody's but root's.
func hidScale(t *testing.T, h *house) {
	h.qmp.must("device_add", map[string]any{"driver": "usb-kbd", "id": "keys", "bus": "usb.0", "port": "8"})
	// The collection of a weighing device, with a report of number 3: status, unit, exponent,
	// two bytes of weight (HID Point of Sale Usage Tables 1.02, section 4).
	h.must(`modprobe -a dummy_hcd libcomposite usb_f_hid && cd /sys/kernel/config/usb_gadget && mkdir g && cd g
		echo 0x0922 >idVendor; echo 0x8003 >idProduct
		mkdir -p strings/0x409 configs/c.1 functions/hid.0 && echo GRAM1 >strings/0x409/serialnumber && echo 6 >functions/hid.0/report_length
		printf '\005\215\011\040\241\001\205\003\011\041\025\000\046\377\000\165\010\225\005\201\002\300' >functions/hid.0/report_desc
		ln -s functions/hid.0 configs/c.1/ && echo dummy_udc.0 >UDC && udevadm settle
		systemd-run --unit=gadget sh -c 'while printf "\003\004\002\377\157\004"; do sleep 0.1; done >/dev/hidg0'`)
	var port string
	var seen web.PortsView
	for began := time.Now(); port == ""; time.Sleep(500 * time.Millisecond) {
		require.Less(t, time.Since(began), time.Minute, "no HID scale is heard: %+v\n%s", seen, h.must("ls -l /dev/hidraw*; systemctl status gadget"))
		_, body := h.ask("api/ports", "")
		if json.Unmarshal([]byte(body), &seen) == nil && !seen.Looking {
			h.ask("api/ports/look", "{}")
		}
		for _, p := range seen.Ports {
			if strings.Contains(p.Port, "hidraw") && p.Format != "" {
				port = p.Port
				t.Logf("seen: %+v", p)
			}
		}
	}
	assert.Equal(t, "640 dialout", strings.TrimSpace(h.must("stat -c '%a %G' "+port)))
	others := strings.TrimSpace(h.must("stat -c '%a %G' $(ls /dev/hidraw* | grep -vx " + port + ")"))
	assert.Equal(t, "600 root", others, "the keyboard")
	h.must("systemctl stop gadget; echo '' >/sys/kernel/config/usb_gadget/g/UDC")
	h.qmp.must("device_del", map[string]any{"id": "keys"})
}

// purged takes the package off: the record stays, and nothing else.
func purged(t *testing.T, h *house) {
	h.must("dpkg -P tared")
	left := strings.Fields(h.must(`find / -xdev \( -name '*tared*' -o -user tared \) -not -path '/proc/*' -not -path '/var/lib/dpkg/*' -not -path '/var/log/*'`))
	var other []string
	for _, f := range left {
		if !strings.HasPrefix(f, "/var/lib/tared") && f != "/debs" {
			other = append(other, f)
		}
	}
	assert.Empty(t, other, "left behind")
	h.must("test -s /var/lib/tared/" + journal.Name)
	assert.Empty(t, strings.TrimSpace(h.must("systemctl --failed --no-legend")))
}

func lastLine(s string) string {
	lines := strings.Split(strings.TrimSpace(s), "\n")
	return lines[len(lines)-1]
}
