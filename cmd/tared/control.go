package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"tared/session/text"
)

// controlName is the socket beside the journal by which commands reach the bench that has
// the journal open. Whoever the rights of the file let open it may command.
const controlName = "control.sock"

// errNoBench means that no bench answers at the socket of a data directory.
var errNoBench = errors.New("no bench is running")

// socketPath gives the socket of a data directory, or says that its path is too long: a
// socket has room for 108 bytes on Linux and 104 elsewhere, with a zero behind them
// (sockaddr_un in <sys/un.h>).
func socketPath(dir string) (string, error) {
	most := 103
	if runtime.GOOS == "linux" {
		most = 107
	}
	path := filepath.Join(dir, controlName)
	if len(path) > most {
		return "", text.Refuse("control.long", text.Name("path", path), text.Count("is", len(path)), text.Count("most", most))
	}
	return path, nil
}

// listenControl opens the socket in dir for user and group. One that a killed daemon left
// is removed.
func listenControl(dir string) (net.Listener, error) {
	path, err := socketPath(dir)
	if err != nil {
		return nil, err
	}
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, err
	case info.Mode()&fs.ModeSocket == 0 && runtime.GOOS != "windows":
		return nil, text.Refuse("control.no-socket", text.Name("path", path))
	default:
		if c, err := net.Dial("unix", path); err == nil {
			_ = c.Close()
			return nil, text.Refuse("control.taken", text.Name("path", path))
		}
		if err := os.Remove(path); err != nil {
			return nil, err
		}
	}
	ln, err := net.Listen("unix", path)
	if err != nil {
		return nil, err
	}
	if err := os.Chmod(path, 0o660); err != nil {
		return nil, errors.Join(err, ln.Close())
	}
	return ln, nil
}

// call asks the bench that has the journal in dir open, and reads its answer. With
// errNoBench none is running, or none that can be reached.
func call(ctx context.Context, dir, method, path, kind string, body io.Reader, answer any) error {
	socket, err := socketPath(dir)
	if err != nil {
		return errNoBench // where one is running, the lock of the journal says so
	}
	transport := &http.Transport{DisableKeepAlives: true, DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", socket)
	}}
	ctx, cancel := context.WithTimeout(ctx, callWithin)
	defer cancel()
	q, err := http.NewRequestWithContext(ctx, method, "http://tared/"+path, body)
	if err != nil {
		return err
	}
	q.Header.Set("Content-Type", kind)
	q.Header.Set("Accept-Language", language.Tag)
	res, err := (&http.Client{Transport: transport}).Do(q)
	switch {
	case errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ECONNREFUSED) || errors.Is(err, syscall.ENOTDIR) || err != nil && runtime.GOOS == "windows" && !exists(socket):
		return errNoBench
	case errors.Is(err, fs.ErrPermission):
		return text.Fault("control.denied", text.Name("path", socket))
	case err != nil:
		return text.Fault("control.silent", text.Name("path", socket), text.Because("why", err))
	}
	defer func() { _ = res.Body.Close() }()
	return understand(dir, res, answer)
}

// callWithin is how long a command waits for the bench.
const callWithin = 10 * time.Second

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// understand reads what a bench answers. What it refuses keeps its words.
func understand(dir string, res *http.Response, answer any) error {
	answered, err := io.ReadAll(io.LimitReader(res.Body, 1<<22))
	var got struct {
		Error string `json:"error"`
	}
	if err == nil && res.StatusCode != http.StatusOK {
		err = json.Unmarshal(answered, &got)
	} else if err == nil {
		err = json.Unmarshal(answered, answer)
	}
	switch {
	case err != nil:
		return failf("cli.the-answer-of-the-bench", dir, err)
	case res.StatusCode == http.StatusOK:
		return nil
	case res.StatusCode == http.StatusConflict || res.StatusCode == http.StatusUnprocessableEntity:
		return &text.Refusal{Message: text.Written(got.Error)}
	}
	return errors.New(got.Error)
}

// handOver hands a request to the bench that has the journal open, and reads its answer.
func handOver(ctx context.Context, dir, path string, r, answer any) error {
	body, err := json.Marshal(r)
	if err != nil {
		return err
	}
	return call(ctx, dir, http.MethodPost, path, "application/json", bytes.NewReader(body), answer)
}

// whoHasIt says of a journal that is in use why the command could not go through the bench
// that uses it.
func whoHasIt(dir string) error {
	if _, err := socketPath(dir); err != nil {
		return err
	}
	return text.Refuse("control.none", text.Name("path", strings.TrimSuffix(dir, "/")))
}
