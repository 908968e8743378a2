package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/session/text"
)

// What a flag is told by others than the command line: the environment, and the
// configuration file. Flags go before the environment, and that before the file.

const (
	// fromFile is the annotation of a flag that a key of the file stands in for, and
	// that TARED_ and the key in capitals does in the environment.
	fromFile = "tared_config"
	// fromWhere is the annotation that says where the value of a flag came from.
	fromWhere = "tared_where"
	// configName is the name of the file in each of the usual places.
	configName = "tared.toml"
	// noConfig, for --config or TARED_CONFIG, is no file at all.
	noConfig = "none"
	// scaleFaults is the hidden flag that takes what is wrong with single scales of the
	// file, and its key. A command that has it goes on with the other scales.
	scaleFaults = "scale-fault"
	// goesOn is the annotation of a command that looks at settings that are wrong, too:
	// there it finds what is wrong with them.
	goesOn = "tared_goes_on"
)

// fills says that a key of the configuration file stands in for a flag.
func fills(f *pflag.FlagSet, flag, key string) { _ = f.SetAnnotation(flag, fromFile, []string{key}) }

// usualConfigs are the places of the configuration file, the first that is there
// counts: of the user (XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME, else
// ~/.config, a relative one is to be ignored; on Windows %AppData%), then of the machine.
func usualConfigs() []string {
	var all []string
	home, err := os.UserHomeDir()
	switch dir := os.Getenv("XDG_CONFIG_HOME"); {
	case filepath.IsAbs(dir):
		all = append(all, filepath.Join(dir, "tared", configName))
	case runtime.GOOS == "windows":
		if dir, err := os.UserConfigDir(); err == nil {
			all = append(all, filepath.Join(dir, "tared", configName))
		}
	case err == nil:
		all = append(all, filepath.Join(home, ".config", "tared", configName))
	}
	if runtime.GOOS == "windows" {
		if dir := os.Getenv("ProgramData"); dir != "" {
			all = append(all, filepath.Join(dir, "tared", configName))
		}
		return all
	}
	return append(all, "/etc/tared/"+configName)
}

// findConfig gives the file that counts: the one that was named, else that of
// TARED_CONFIG, else the first that is at a usual place; "" where there is none.
func findConfig(named string) string {
	if named == "" {
		named = os.Getenv("TARED_CONFIG")
	}
	if named == noConfig {
		return ""
	}
	if named != "" {
		return named
	}
	for _, path := range usualConfigs() {
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			return path // one that cannot be read is an error, not a file that is not there
		}
	}
	return ""
}

// addConfig gives --config to a command, and to those below it, that has a flag
// which a file can stand in for.
func addConfig(cmd *cobra.Command) {
	for _, below := range cmd.Commands() {
		addConfig(below)
	}
	var filled []*pflag.Flag
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Annotations[fromFile] != nil {
			filled = append(filled, f)
		}
	})
	if filled == nil {
		return
	}
	named := cmd.Flags().String("config", "", "")
	then := cmd.PreRunE
	given := map[string][]string{} // lists as the command line gave them, for a second reading
	settle := func(cmd *cobra.Command, args []string) error {
		for _, f := range filled {
			if l, ok := f.Value.(pflag.SliceValue); ok && given[f.Name] == nil {
				given[f.Name] = append([]string{}, l.GetSlice()...)
			}
		}
		var c configFile
		if path := findConfig(*named); path != "" {
			var err error
			if c, err = readConfig(path); err != nil {
				return err
			}
		}
		for _, f := range filled {
			if err := c.fill(f, given[f.Name]); err != nil {
				return err
			}
		}
		if len(c.faults) > 0 && cmd.Flags().Lookup("configured-scale") != nil && cmd.Flags().Lookup(scaleFaults) == nil {
			return c.faults[0]
		}
		if then == nil {
			return nil
		}
		return then(cmd, args)
	}
	cmd.PreRunE = func(cmd *cobra.Command, args []string) error {
		err := settle(cmd, args)
		if _, ok := cmd.Annotations[goesOn]; ok && err != nil && !errors.As(err, new(*usageError)) {
			cmd.Annotations[goesOn] = err.Error()
			return nil
		}
		return err
	}
}

// fill sets a flag: to what the command line gave, else to what the environment says,
// else to what the file says, else to what is usual. Host names and formats of the
// file are added to those that were given. It may be called again, for another file.
func (c configFile) fill(f *pflag.Flag, given []string) error {
	key := f.Annotations[fromFile][0]
	if l, ok := f.Value.(pflag.SliceValue); ok {
		f.Annotations[fromWhere] = nil
		if f.Changed {
			f.Annotations[fromWhere] = []string{"--" + f.Name}
		}
		more := c.lists()[key]
		if len(more) > 0 {
			f.Annotations[fromWhere] = append(f.Annotations[fromWhere], c.where(key))
		}
		return l.Replace(append(slices.Clone(given), more...))
	}
	if f.Changed && f.Annotations[fromWhere] == nil {
		f.Annotations[fromWhere] = []string{"--" + f.Name}
	}
	if slices.Contains(f.Annotations[fromWhere], "--"+f.Name) {
		return nil
	}
	value, where := f.DefValue, ""
	if v := os.Getenv(envName(key)); v != "" {
		value, where = v, envName(key)
	} else if v := c.texts()[key]; v != "" {
		value, where = v, c.where(key)
	}
	f.Annotations[fromWhere] = []string{where}
	if err := f.Value.Set(value); err != nil {
		return &configError{text.Refuse("settings.yes-no", text.Name("key", where), text.Name("value", value))}
	}
	return nil
}

func envName(key string) string { return "TARED_" + strings.ToUpper(key) }

// lists and texts are what the file says, by its keys.
func (c configFile) lists() map[string][]string {
	all := map[string][]string{"names": c.Names, "trusted_proxies": c.Proxy}
	for _, s := range c.specs {
		all["scale"] = append(all["scale"], s.words)
	}
	for _, err := range c.faults {
		all[scaleFaults] = append(all[scaleFaults], err.Error())
	}
	if c.formats != nil {
		all["format"] = []string{c.doc.path}
	}
	return all
}

func (c configFile) texts() map[string]string {
	all := map[string]string{"listen": string(c.Listen), "data": string(c.Data), "materials": string(c.Materials), "analyses": string(c.Analyses), "confirm": string(c.Confirm),
		"accept": string(c.Accept), "sign": string(c.Sign), "water": string(c.Water), "url": string(c.URL), "readers": string(c.Readers), "tls": string(c.TLS), "tls_cert": string(c.TLSCert), "tls_key": string(c.TLSKey), "mqtt": string(c.MQTT),
		"backup_dir": string(c.BackupDir), "backup_at": string(c.BackupAt), "backup_keep": string(c.BackupKeep), "print_label": string(c.PrintLabel), "print_as": string(c.PrintAs), "local_name": string(c.LocalName)}
	if c.Pair {
		all["pair"] = "true"
	}
	return all
}

// where says in which line of the file a key stands.
func (c configFile) where(key string) string {
	line := c.doc.key(key)
	if key == "scale" || key == "format" {
		line = c.doc.line(0, `\[\[\s*`+key+`\s*]]`)
	}
	return c.doc.path + ":" + strconv.Itoa(line)
}

// whence says where the value of a flag came from: its own name, the name of a
// variable, a file and its line; "" where it is what is usual.
func whence(f *pflag.Flag) string {
	if f.Changed && f.Annotations[fromWhere] == nil {
		return "--" + f.Name
	}
	return strings.Join(f.Annotations[fromWhere], ", ")
}

// wrongValue blames a value on whoever gave it: a mistake in the command line, or one in
// the environment.
func wrongValue(f *pflag.Flag, err error) error {
	if at := whence(f); strings.HasPrefix(at, "TARED_") {
		return configf("cli.layout-3", at, err)
	}
	return usagef("cli.layout-4", f.Name, err)
}
