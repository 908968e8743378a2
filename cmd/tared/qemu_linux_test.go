package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/scale/sim"
)

// machine is a small computer with a Debian on it, made of QEMU.
type machine struct {
	t        *testing.T
	of, debs string // where the kernel and the disks lie; the packages
	dir      string // of its sockets
	root     string // the disk that it starts from
	record   *cutDisk
	accel    []string
	url      string // of its page, seen from here
	hostfwd  string

	cmd        *exec.Cmd
	said       bytes.Buffer // by QEMU, of what is wrong
	qmp, agent *jsonWire
	mu         sync.Mutex
	leads      []*lead
	synced     int // times that the agent was looked for
}

func newMachine(t *testing.T, of, debs string) *machine {
	// The name of a socket is short.
	dir, err := os.MkdirTemp("", "machine-")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	m := &machine{t: t, of: of, debs: debs, dir: dir, root: filepath.Join(dir, "root.qcow2")}
	m.record = newCutDisk(t, filepath.Join(dir, "record.sock"), filepath.Join(of, "record.img"))
	out, err := exec.Command("qemu-img", "create", "-q", "-f", "qcow2", "-F", "raw", "-b", filepath.Join(of, "root.img"), m.root).CombinedOutput()
	require.NoError(t, err, string(out))
	address := lastingAddress(t)
	m.hostfwd, m.url = "hostfwd=tcp:"+address+"-:7411", "http://"+address+"/"
	m.accel = accelerator(t, filepath.Join(of, "vmlinuz"))
	t.Cleanup(m.off)
	return m
}

// accelerator is KVM where a kernel really starts with it: many a virtual machine has the
// device, and what runs in it hangs.
func accelerator(t *testing.T, kernel string) []string {
	kvm := []string{"-accel", "kvm", "-cpu", "host,-arch-capabilities"}
	ctx, cancel := context.WithTimeout(t.Context(), 6*time.Second)
	defer cancel()
	said, _ := endsWithUs(exec.CommandContext(ctx, "qemu-system-x86_64", append([]string{"-M", "q35", "-m", "256", "-nodefaults", "-display", "none",
		"-no-reboot", "-serial", "stdio", "-kernel", kernel, "-append", "console=ttyS0 earlyprintk=serial panic=-1"}, kvm...)...)).Output()
	if bytes.Contains(said, []byte("Linux version")) {
		return kvm
	}
	t.Log("no KVM here: the machine is computed, and slow")
	return []string{"-accel", "tcg,thread=multi", "-cpu", "max"}
}

// on starts the machine, and waits until it can be spoken to.
func (m *machine) on(more ...string) {
	for _, s := range []string{"qmp", "agent", "s0", "s1"} {
		_ = os.Remove(filepath.Join(m.dir, s))
	}
	sock := func(name string) string { return filepath.Join(m.dir, name) + ",server=on,wait=off" }
	args := append([]string{"-M", "q35", "-smp", "2", "-m", "768", "-nodefaults", "-no-user-config", "-display", "none", "-no-reboot",
		"-kernel", filepath.Join(m.of, "vmlinuz"), "-initrd", filepath.Join(m.of, "initrd"),
		"-append", "root=/dev/vda rw console=ttyS0 quiet mitigations=off net.ifnames=1",
		"-drive", "file=" + m.root + ",if=none,id=d0,format=qcow2,cache=writeback", "-device", "virtio-blk-pci,drive=d0",
		"-drive", "file=nbd+unix:///?socket=" + m.record.path + ",if=none,id=d1,format=raw,cache=writeback", "-device", "virtio-blk-pci,drive=d1",
		"-drive", "file=" + m.debs + ",if=none,id=d2,format=raw,readonly=on", "-device", "virtio-blk-pci,drive=d2",
		"-netdev", "user,id=n0,restrict=on," + m.hostfwd, "-device", "virtio-net-pci,netdev=n0,romfile=",
		"-device", "qemu-xhci,id=usb,p2=8", "-device", "virtio-rng-pci", "-device", "virtio-serial-pci",
		"-chardev", "socket,id=agent,path=" + sock("agent"), "-device", "virtserialport,chardev=agent,name=org.qemu.guest_agent.0",
		"-chardev", "socket,id=s0,path=" + sock("s0"), "-chardev", "socket,id=s1,path=" + sock("s1"),
		"-qmp", "unix:" + sock("qmp"), "-serial", "file:" + filepath.Join(m.dir, "console.log")}, m.accel...)
	m.cmd = endsWithUs(exec.Command("qemu-system-x86_64", append(args, more...)...))
	m.said.Reset()
	m.cmd.Stderr = &m.said
	require.NoError(m.t, m.cmd.Start())
	began := time.Now()
	m.qmp, m.agent = m.wire("qmp"), m.wire("agent")
	_, err := m.qmp.next() // it greets
	require.NoError(m.t, err)
	m.qmp.must("qmp_capabilities", nil)
	m.reach(4 * time.Minute)
	for i, c := range m.leads {
		c.to = m.wire(fmt.Sprint("s", i)).conn
		// What the machine says to a scale must go somewhere, or all of QEMU waits.
		go func(from net.Conn) { _, _ = io.Copy(io.Discard, from) }(c.to)
		if c.at != "" {
			m.plug(c, c.at)
		}
	}
	m.t.Logf("up after %.1f s", time.Since(began).Seconds())
}

// fails is the power cut: what was in memory is gone, and what was in the cache of the
// disk, as chance will have it. It tells how many blocks were in that.
func (m *machine) fails(c chooser) (cached int) {
	m.off()
	return m.record.cut(c.rng)
}

func (m *machine) off() {
	if m.cmd == nil {
		return
	}
	_ = m.cmd.Process.Kill()
	_ = m.cmd.Wait()
	m.cmd = nil
	for _, c := range m.leads {
		c.on.Lock()
		c.plugged = false
		c.on.Unlock()
		if c.to != nil {
			_ = c.to.Close()
		}
	}
	_, _ = m.qmp.conn.Close(), m.agent.conn.Close()
}

func (m *machine) console() string {
	b, _ := os.ReadFile(filepath.Join(m.dir, "console.log"))
	return string(b[max(0, len(b)-4000):])
}

func (m *machine) wire(name string) *jsonWire {
	for began := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		if c, err := net.Dial("unix", filepath.Join(m.dir, name)); err == nil {
			return &jsonWire{t: m.t, conn: c, from: bufio.NewReader(c)}
		}
		require.Less(m.t, time.Since(began), 20*time.Second, "%s does not listen: %s", name, m.said.String())
	}
}

// sh lets a shell in the machine carry a command out, and gives what it said. The agent may
// be started anew while the machine comes up: what it was asked before, it never answers.
func (m *machine) sh(command string) (said string, code int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for range 3 {
		if said, code, ok := m.shOnce(command); ok {
			return said, code
		}
		m.t.Logf("the agent did not answer: %s is asked again", command)
		m.reach(4 * time.Minute)
	}
	require.Fail(m.t, "the machine does not answer", "%s\n%s", command, m.console())
	return "", -1
}

func (m *machine) shOnce(command string) (said string, code int, ok bool) {
	var started struct{ Pid int }
	if !m.agent.ask(&started, "guest-exec", map[string]any{"path": "/bin/sh", "arg": []string{"-c", command}, "capture-output": true}) {
		return "", 0, false
	}
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		var s struct {
			Exited   bool
			Exitcode int
			Out      []byte `json:"out-data"`
			Err      []byte `json:"err-data"`
		}
		if !m.agent.ask(&s, "guest-exec-status", map[string]any{"pid": started.Pid}) {
			return "", 0, false
		}
		if s.Exited {
			return string(s.Out) + string(s.Err), s.Exitcode, true
		}
		require.Less(m.t, time.Since(began), 4*time.Minute, "%s does not end", command)
	}
}

// reach waits until the agent in the machine answers.
func (m *machine) reach(limit time.Duration) {
	for began := time.Now(); ; {
		m.synced++
		require.Less(m.t, time.Since(began), limit, "the machine does not come up:\n%s", m.console())
		require.NoError(m.t, m.agent.send("guest-sync", map[string]any{"id": m.synced}), "QEMU has ended: %s\n%s", m.said.String(), m.console())
		if m.agent.synced(m.synced) {
			return
		}
	}
}

func (m *machine) must(command string) string {
	m.t.Helper()
	said, code := m.sh(command)
	require.Zero(m.t, code, "%s: %s", command, said)
	return said
}

// lead is a scale with an adapter at its end. What it says while it is not plugged in
// nobody hears.
type lead struct {
	id, serial string
	at, was    string // the port, also while the power is off; "" for none; the one before

	on      sync.Mutex
	plugged bool
	to      net.Conn
}

// lay lays the cable of a simulated scale. The machine must be off.
func (m *machine) lay(ctx context.Context, l *sim.Line, serial string) *lead {
	c := &lead{id: fmt.Sprint("s", len(m.leads)), serial: serial}
	m.leads = append(m.leads, c)
	port, err := l.Open()
	require.NoError(m.t, err)
	context.AfterFunc(ctx, func() { _ = port.Close() })
	go func() {
		b := make([]byte, 256)
		for {
			n, err := port.Read(b)
			if err != nil {
				return
			}
			c.on.Lock()
			if c.plugged {
				_ = c.to.SetWriteDeadline(time.Now().Add(time.Second))
				_, _ = c.to.Write(b[:n])
			}
			c.on.Unlock()
		}
	}()
	return c
}

// plug puts a cable into a port of the machine.
func (m *machine) plug(c *lead, port string) {
	m.qmp.must("device_add", map[string]any{"driver": "usb-serial", "chardev": c.id, "id": "u" + c.id, "bus": "usb.0", "port": port, "serial": c.serial, "always-plugged": true})
	c.on.Lock()
	defer c.on.Unlock()
	c.at, c.plugged = port, true
}

func (m *machine) unplug(c *lead) {
	c.on.Lock()
	c.plugged = false
	c.on.Unlock()
	c.at, c.was = "", c.at
	m.qmp.must("device_del", map[string]any{"id": "u" + c.id})
	m.qmp.event("DEVICE_DELETED")
}

// jsonWire carries commands and answers, a line of JSON each.
type jsonWire struct {
	t      *testing.T
	conn   net.Conn
	from   *bufio.Reader
	events []string
}

func (w *jsonWire) send(command string, args any) error {
	m := map[string]any{"execute": command}
	if args != nil {
		m["arguments"] = args
	}
	b, err := json.Marshal(m)
	if err != nil {
		return err
	}
	_, err = w.conn.Write(append(b, '\n'))
	return err
}

type wireAnswer struct {
	Return json.RawMessage
	Error  *struct{ Desc string }
	Event  string
}

func (w *jsonWire) next() (a wireAnswer, err error) {
	line, err := w.from.ReadBytes('\n')
	if err != nil {
		return a, err
	}
	return a, json.Unmarshal(line, &a)
}

func (w *jsonWire) must(command string, args any) json.RawMessage {
	w.t.Helper()
	require.NoError(w.t, w.send(command, args))
	for {
		a, err := w.next()
		require.NoError(w.t, err, command)
		require.Nil(w.t, a.Error, "%s: %+v", command, a.Error)
		if a.Event == "" {
			return a.Return
		}
		w.events = append(w.events, a.Event)
	}
}

// ask is must for one who may not be there: false when no answer comes in half a minute.
func (w *jsonWire) ask(answer any, command string, args any) bool {
	_ = w.conn.SetDeadline(time.Now().Add(30 * time.Second))
	defer func() { _ = w.conn.SetDeadline(time.Time{}) }()
	if w.send(command, args) != nil {
		return false
	}
	a, err := w.next()
	return err == nil && a.Error == nil && json.Unmarshal(a.Return, answer) == nil
}

// event waits for one.
func (w *jsonWire) event(name string) {
	for {
		for i, e := range w.events {
			if e == name {
				w.events = append(w.events[:i], w.events[i+1:]...)
				return
			}
		}
		a, err := w.next()
		require.NoError(w.t, err, name)
		w.events = append(w.events, a.Event)
	}
}

// synced tells whether the agent has answered to that number within two seconds.
func (w *jsonWire) synced(n int) bool {
	_ = w.conn.SetReadDeadline(time.Now().Add(2 * time.Second))
	defer func() { _ = w.conn.SetReadDeadline(time.Time{}) }()
	for {
		a, err := w.next()
		if err != nil {
			return false
		}
		if string(a.Return) == fmt.Sprint(n) {
			return true
		}
	}
}
