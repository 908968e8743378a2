package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tared/scale"
	"tared/session/doubt"
	"tared/session/journal"
	"tared/session/plain"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// maxRecipe bounds what is read as a recipe; a page of text has some 3 kB.
const maxRecipe = 1 << 20

// addData gives a command the flag that names where the journal lives. It is settled
// before the command runs.
func addData(cmd *cobra.Command, dir *string) {
	dataFlag(cmd, dir)
	cmd.PreRunE = func(cmd *cobra.Command, _ []string) (err error) {
		if *dir == "" && cmd.Flags().Changed("data") {
			return usage(text.Refuse("settings.data-empty"))
		}
		*dir, err = dataDir(*dir)
		return err
	}
}

// addRecord is addData for a command that writes. Where nobody said which record is meant
// and there is another one besides, it is asked: two records must not grow by accident.
func addRecord(cmd *cobra.Command, dir *string) {
	addData(cmd, dir)
	settle := cmd.PreRunE
	cmd.PreRunE = func(cmd *cobra.Command, args []string) error {
		said := *dir != ""
		if err := settle(cmd, args); err != nil || said {
			return err
		}
		return onlyRecord(*dir)
	}
}

// onlyRecord refuses where another record of this machine is in use, or where dir has
// none and another place has one.
func onlyRecord(dir string) error {
	_, none := os.Stat(filepath.Join(dir, journal.Name))
	here := witnessFile(dir)
	for _, w := range journal.Witnessed(filepath.Dir(here)) {
		there := filepath.Dir(w.Journal)
		if witnessFile(there) != here && (none != nil || journal.InUse(there)) {
			return usagef("cli.a-record-is-kept-in", there, there, dir)
		}
	}
	return nil
}

func dataFlag(cmd *cobra.Command, dir *string) {
	cmd.Flags().StringVar(dir, "data", "", "")
	fills(cmd.Flags(), "data", "data")
}

// dataDir settles where the journal lives: what was said by flag, environment or
// file, then the first directory that systemd gives a service for its state
// (STATE_DIRECTORY, systemd.exec(5)), then "tared" in the data directory of the user as
// the XDG Base Directory Specification 0.8 has it ($XDG_DATA_HOME, else ~/.local/share; a relative
// XDG_DATA_HOME is to be ignored), on Windows in %LocalAppData%. It makes nothing.
func dataDir(flag string) (string, error) {
	if flag != "" {
		return flag, nil
	}
	if dir, _, _ := strings.Cut(os.Getenv("STATE_DIRECTORY"), ":"); dir != "" {
		return dir, nil
	}
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "tared"), nil
	}
	if runtime.GOOS == "windows" {
		if dir := os.Getenv("LocalAppData"); dir != "" {
			return filepath.Join(dir, "tared"), nil
		}
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", configf("cli.data-directory-no-home-directory", err)
	}
	return filepath.Join(home, ".local", "share", "tared"), nil
}

// witnessFile gives the file in which the head of the journal of dir is noted, outside
// dir: one who loses or replaces the directory does not touch it. Empty where this
// machine has no place for such things.
func witnessFile(dir string) string {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return ""
	}
	if real, err := filepath.EvalSymlinks(abs); err == nil {
		abs = real
	}
	state := os.Getenv("XDG_STATE_HOME")
	if !filepath.IsAbs(state) {
		if runtime.GOOS == "windows" {
			state = os.Getenv("LocalAppData")
		} else if home, err := os.UserHomeDir(); err == nil {
			state = filepath.Join(home, ".local", "state")
		}
	}
	if !filepath.IsAbs(state) {
		return ""
	}
	name := sha256.Sum256([]byte(abs))
	return filepath.Join(state, "tared", "witness", hex.EncodeToString(name[:8])+".json")
}

// readRecipe reads the text of a recipe from a file, or from in where name is "-".
func readRecipe(name string, in io.Reader) (string, error) {
	from := says("cli.recipe-file", name)
	if name == "-" {
		from = says("cli.recipe-stdin")
	} else {
		f, err := os.Open(name)
		if file, one, ok := cutLast(name, ":"); ok && errors.Is(err, fs.ErrNotExist) {
			if all, err := readRecipe(file, in); err == nil {
				r, err := recipe.Named(all, one)
				return r.Format(), err
			}
		}
		if errors.Is(err, fs.ErrNotExist) {
			return "", failf("cli.recipe-there-is-no-such", name)
		}
		if err != nil {
			return "", failf("cli.open-recipe", err)
		}
		defer f.Close()
		in = f
	}
	b, err := plain.Read(in, maxRecipe)
	if err != nil {
		return "", failf("cli.read", from, err)
	}
	if len(b) > maxRecipe {
		return "", failf("cli.longer-than-bytes-this-is", from, maxRecipe)
	}
	return string(b), nil
}

func cutLast(s, sep string) (before, after string, found bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}

// scaleFlags are the scales on the command line, in the order in which the
// user prefers them.
type scaleFlags struct {
	specs      []string
	configured []string // by the configuration file, for where none is given
	files      []string // with formats of the user's own
}

func (s *scaleFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringArrayVar(&s.specs, "scale", nil,
		"")
	addFormats(cmd, &s.files)
	s.addConfigured(cmd)
}

// addConfigured takes the scales of the configuration file.
func (s *scaleFlags) addConfigured(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringArrayVar(&s.configured, "configured-scale", nil, "")
	_ = f.MarkHidden("configured-scale")
	fills(f, "configured-scale", "scale")
}

// addFormats gives a command the flag that names a file of formats.
func addFormats(cmd *cobra.Command, files *[]string) {
	cmd.Flags().StringArrayVar(files, "formats", nil, "")
	fills(cmd.Flags(), "formats", "format")
}

// parse reads them. planning allows scales without a port, which only a plan can do with.
func (s *scaleFlags) parse(planning bool) ([]scale.Config, error) {
	own, err := readFormats(s.files)
	if err != nil {
		return nil, err
	}
	var all []scale.Config
	specs := s.specs
	if len(specs) == 0 {
		specs = s.configured
	}
	for _, spec := range specs {
		if planning && !strings.Contains(","+strings.ReplaceAll(spec, " ", ""), ",port=") {
			spec += ",port=" + unplugged + strconv.Itoa(len(all))
		}
		c, err := scale.ParseSpec(spec)
		if err != nil {
			return nil, usagef("cli.scale", err)
		}
		c.Formats = own
		all = append(all, c)
	}
	if err := checkScales(all); err != nil {
		return nil, usagef("cli.scale", err)
	}
	return all, nil
}

// unplugged is the port of a scale that is only planned with.
const unplugged = "none-"

// onSheet gives the scales as a weigh sheet sees them.
func onSheet(scales []scale.Config) []sheet.Scale {
	out := make([]sheet.Scale, len(scales))
	for i, c := range scales {
		out[i] = sheet.Scale{Name: c.Name, Step: c.Step, Unit: c.Unit, Max: c.Max, Spread: c.Spread, Eye: c.ByEye(), Port: c.Port, Format: c.Format,
			Gauge: doubt.Gauge{Class: c.Class.String(), Interval: c.Interval}}
		if strings.HasPrefix(c.Port, unplugged) {
			out[i].Port = ""
		}
	}
	return out
}
