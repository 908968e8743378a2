package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/spf13/cobra"

	"tared/session"
	"tared/session/label"
	"tared/session/text"
	"tared/web"
)

// deviceFlags are those of devices.
type deviceFlags struct {
	keepFlags
	add, revoke, all bool
	name, token      string
}

func devicesCommand() *cobra.Command {
	var d deviceFlags
	cmd := &cobra.Command{
		Use:  "devices [DEVICE]",
		Args: maybeOneArg("DEVICE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx, out := cmd.Context(), cmd.OutOrStdout()
			doings := 0
			for _, is := range []bool{d.add, d.token != "", d.name != "", d.revoke} {
				if is {
					doings++
				}
			}
			switch wants := d.name != "" || d.revoke; {
			case doings > 1:
				return usage(text.Refuse("devices.one"))
			case wants && len(args) == 0 || doings == 0 && len(args) == 1:
				return usage(text.Refuse("devices.which"))
			case wants:
				return d.change(ctx, out, args[0])
			case len(args) == 1:
				return usage(text.Refuse("devices.no-name"))
			case d.add:
				return d.invite(ctx, out)
			case d.token != "":
				return d.program(ctx, out)
			}
			return d.list(out)
		},
	}
	d.addTo(cmd)
	f := cmd.Flags()
	f.BoolVar(&d.add, "add", false, "")
	f.StringVar(&d.token, "token", "", "")
	f.StringVar(&d.name, "name", "", "")
	f.BoolVar(&d.revoke, "revoke", false, "")
	f.BoolVar(&d.all, "all", false, "")
	return cmd
}

// invite has the bench that is running make a code, and shows it.
func (d *deviceFlags) invite(ctx context.Context, out io.Writer) error {
	var i web.Invitation
	if err := d.needsBench(handOver(ctx, d.data, "api/devices/invite", struct{}{}, &i)); err != nil {
		return err
	}
	sayer{out, d.json}.invitation(i)
	return nil
}

// program has the bench that is running let a program in, and shows its token.
func (d *deviceFlags) program(ctx context.Context, out io.Writer) error {
	var got struct {
		Token string `json:"token"`
	}
	if err := d.needsBench(handOver(ctx, d.data, "api/devices", session.DeviceRequest{Name: d.token, By: d.by}, &got)); err != nil {
		return err
	}
	sayer{out, d.json}.say("token", "token", got.Token, got.Token)
	return nil
}

// needsBench says of what only a running bench can do that none is.
func (d *deviceFlags) needsBench(err error) error {
	if err == errNoBench {
		return text.Refuse("devices.no-bench", text.Name("path", d.data))
	}
	return err
}

// known gives those that were ever paired, or that may.
func (d *deviceFlags) known(all bool) ([]session.Device, error) {
	w, err := readWorkshop(d.data)
	if err != nil {
		return nil, err
	}
	if all {
		return w.Devices, nil
	}
	return w.Devices.May(), nil
}

// change names a device anew, or sends it away.
func (d *deviceFlags) change(ctx context.Context, out io.Writer, which string) error {
	may, err := d.known(false)
	if err != nil {
		return err
	}
	k := slices.IndexFunc(may, func(o session.Device) bool { return o.ID == which || strings.EqualFold(o.Name, which) })
	if k < 0 {
		return usage(text.Refuse("devices.none", text.Name("device", which)))
	}
	r := session.DeviceRequest{Device: may[k].ID, Name: d.name, By: d.by}
	err = aloneOrThrough(ctx, d.data, "api/devices", r, &struct{}{}, func() error {
		return session.RecordDevice(d.data, witnessFile(d.data), time.Now(), r)
	})
	if err != nil {
		return err
	}
	done, words := "named", text.New("devices.named", text.Name("was", may[k].Name), text.Name("device", d.name))
	if d.revoke {
		done, words = "revoked", text.New("devices.revoked", text.Name("device", may[k].Name))
	}
	sayer{out, d.json}.say(done, "device", r.Device, language.Say(words))
	return nil
}

func (d *deviceFlags) list(out io.Writer) error {
	all, err := d.known(d.all)
	if err != nil {
		return err
	}
	if d.json {
		return writeLines(out, all)
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(out, language.Say(text.New("devices.empty")))
		return err
	}
	t := newTable("device", "id", "paired", "from", "by", "")
	for _, o := range all {
		gone := ""
		if !o.Revoked.IsZero() {
			gone = language.Say(text.New("devices.gone", text.Moment("at", o.Revoked)))
		}
		from := o.From
		if o.Token {
			from = language.Say(text.New("devices.token"))
		}
		t.add(o.Name, o.ID, o.At.Format("2006-01-02 15:04"), from, o.By, gone)
	}
	_, err = io.WriteString(out, t.String())
	return err
}

// invitation shows how a device comes in: at a terminal with a code for its camera.
func (s sayer) invitation(i web.Invitation) {
	if s.json {
		_ = json.NewEncoder(s.out).Encode(struct {
			Kind string `json:"kind"`
			web.Invitation
		}{"pairing", i})
		return
	}
	say := func(m text.Message) { _, _ = fmt.Fprintln(s.out, language.Say(m)) }
	minutes := int(i.Until.Sub(i.Now).Round(time.Minute) / time.Minute)
	scan := text.New("devices.scan")
	if i.Trust != "" {
		s.camera(text.New("devices.trust-scan"), i.Trust)
		say(text.New("devices.trust", text.Name("url", i.Trust)))
		scan = text.New("devices.scan-then")
	}
	if len(i.Links) > 0 {
		s.camera(scan, i.Links[0])
	}
	for n, link := range slices.DeleteFunc(append([]string{i.Named}, i.Links...), func(l string) bool { return l == "" }) {
		url, _, _ := strings.Cut(link, "#")
		if n == 0 {
			say(text.New("devices.open", text.Name("url", url)))
		} else {
			say(text.New("devices.or", text.Name("url", url)))
		}
	}
	say(text.New("devices.code", text.Name("code", i.Code[:5]+" "+i.Code[5:]), text.Count("minutes", minutes)))
}

// camera shows a link for the camera of a device, where there is a terminal to show it on.
func (s sayer) camera(why text.Message, link string) {
	code, err := label.Modules(link)
	if f, ok := s.out.(*os.File); err != nil || !ok || !isatty.IsTerminal(f.Fd()) {
		return
	}
	_, _ = fmt.Fprintln(s.out, language.Say(why))
	for _, line := range code.Lines() {
		_, _ = fmt.Fprintln(s.out, "  "+line)
	}
}
