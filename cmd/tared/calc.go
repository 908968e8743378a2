package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/session/calc"
	"tared/session/text"
)

func calcCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use: "calc TOPIC key=value …",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return usagef("cli.is-not-a-topic-take", args[0], nearTopic(args[0]), strings.Join(topicNames(), ", "))
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return listTopics(cmd.OutOrStdout(), asJSON) },
	}
	cmd.PersistentFlags().BoolVar(&asJSON, "json", false, "")
	for _, t := range calc.Topics() {
		cmd.AddCommand(topicCommand(t, &asJSON))
	}
	return cmd
}

func topicNames() []string {
	var names []string
	for _, t := range calc.Topics() {
		names = append(names, t.Name)
	}
	return names
}

// nearTopic guesses what a wrong name meant.
func nearTopic(wrong string) string {
	for _, n := range topicNames() {
		if slips(strings.ToLower(wrong), n) <= 2 {
			return says("cli.did-you-mean", n) + " "
		}
	}
	return ""
}

func listTopics(w io.Writer, asJSON bool) error {
	if !asJSON {
		var b strings.Builder
		for _, topic := range calc.Topics() {
			fmt.Fprintf(&b, "  %-9s %s\n", topic.Name, language.Term(topic.About))
			for _, f := range topic.Forms {
				fmt.Fprintf(&b, "  %-9s   tared calc %s %s\n", "", topic.Name, f.Command())
			}
		}
		b.WriteString("\n" + says("cli.tared-calc-topic-help-shows") + "\n")
		_, err := io.WriteString(w, b.String())
		return err
	}
	type line struct {
		Topic string   `json:"topic"`
		About string   `json:"about"`
		Usage []string `json:"usage"`
	}
	var all []line
	for _, topic := range calc.Topics() {
		l := line{Topic: topic.Name, About: topic.About}
		for _, f := range topic.Forms {
			l.Usage = append(l.Usage, f.Usage())
		}
		all = append(all, l)
	}
	return writeLines(w, all)
}

func topicCommand(t calc.Topic, asJSON *bool) *cobra.Command {
	var examples []string
	for _, f := range t.Forms {
		examples = append(examples, "  tared calc "+t.Name+" "+f.Command())
	}
	cmd := &cobra.Command{
		Use:     t.Name + " " + strings.NewReplacer("[places=2]", "[--places 2]").Replace(t.Usage()),
		Short:   language.Term(t.About),
		Example: strings.Join(examples, "\n"),
		Args:    cobra.ArbitraryArgs,
	}
	cmd.SetHelpFunc(func(cmd *cobra.Command, args []string) { // its examples are worked when somebody reads them
		cmd.Long = topicHelp(t)
		cmd.Parent().HelpFunc()(cmd, args)
	})
	places, own := "", ""
	addMaterials(cmd, &own)
	list := listOf(t)
	if list != "" {
		cmd.Flags().StringVar(&places, "places", "", "")
		// "-5" among the amounts looks like a flag; say what it really is.
		cmd.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
			var none *pflag.NotExistError
			if errors.As(err, &none) && strings.ContainsAny(none.GetSpecifiedShortnames(), "0123456789.,") {
				return failf("cli.an-amount-cannot-be-negative", none.GetSpecifiedShortnames())
			}
			return wrongFlag(err)
		})
	}
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		in, err := readGiven(t, list, args)
		if err != nil {
			return err
		}
		if cmd.Flags().Changed("places") {
			in = append(in, calc.Given{Key: "places", Text: places})
		}
		if t.Table, err = openMaterials(own); err != nil {
			return err
		}
		a, err := t.Run(in)
		var r *calc.Refusal
		if errors.As(err, &r) && r.Wrong {
			return usage(err)
		}
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(cmd.OutOrStdout()).Encode(a)
		}
		return writeAnswer(cmd.OutOrStdout(), a)
	}
	return cmd
}

// listOf names the argument that takes plain numbers without a key; "" where
// the topic has none.
func listOf(t calc.Topic) string {
	for _, f := range t.Forms {
		for _, a := range f.Args {
			if a.Kind == calc.Amounts {
				return a.Name
			}
		}
	}
	return ""
}

// readGiven splits the words of the command line into keys and values.
func readGiven(t calc.Topic, list string, args []string) ([]calc.Given, error) {
	var in []calc.Given
	var bare []string
	for _, s := range args {
		key, text, ok := strings.Cut(s, "=")
		switch {
		case ok:
			in = append(in, calc.Given{Key: strings.TrimSpace(key), Text: text})
		case list != "":
			bare = append(bare, s)
		default:
			return nil, usagef("cli.give-a-name-an-equals-2", s, t.Usage())
		}
	}
	if len(bare) > 0 {
		in = append(in, calc.Given{Key: list, Text: strings.Join(bare, " ")})
	}
	return in, nil
}

// topicHelp is the whole of what there is to know about a topic.
func topicHelp(t calc.Topic) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", language.Term(t.About))
	for _, f := range t.Forms {
		if f.Title != "" {
			fmt.Fprintf(&b, "\n%s\n", language.Term(f.Title))
		}
		b.WriteString("\n")
		for _, a := range f.Args {
			words := text.Term("", a.Words)
			says := text.Put("help.calc-arg", words, a.Kind.How())
			switch {
			case a.Kind == calc.Amounts:
				says = text.Put("cli.layout-2", words)
			case a.Optional:
				says = text.Put("help.calc-optional", words, a.Kind.How())
			}
			fmt.Fprintf(&b, "  %-10s %s\n", a.Name, language.Say(says))
		}
		fmt.Fprintf(&b, "\n%s\n", says("help.calc-formula"))
		for _, s := range f.Formula {
			fmt.Fprintf(&b, "  %s\n", language.Term(s))
		}
		fmt.Fprintf(&b, "\n%s\n", says("help.calc-source"))
		for _, s := range f.Source {
			fmt.Fprintf(&b, "  %s\n", s) // as it is cited
		}
		fmt.Fprintf(&b, "\n%s\n  tared calc %s %s\n  %s\n  %s\n", says("help.calc-example", f.Example.Source), t.Name, f.Command(), language.Say(t.Answered(f).Words), f.Example.JSON)
	}
	b.WriteString("\n" + strings.TrimSuffix(wrapped(says("help.calc-json")), "\n"))
	return b.String()
}

// writeAnswer writes an answer for people: the sentence first.
func writeAnswer(w io.Writer, a calc.Answer) error {
	var b strings.Builder
	b.WriteString(language.Say(a.Words) + "\n")
	if len(a.Facts) > 0 {
		b.WriteString("\n")
		t := tableUnder("", "")
		t.rows = nil
		for _, f := range a.Facts {
			t.add(language.Say(f.Name), language.Say(f.Value))
		}
		b.WriteString(t.String())
	}
	if a.Table != nil {
		b.WriteString("\n")
		heads := make([]string, len(a.Table.Heads))
		for i, h := range a.Table.Heads {
			heads[i] = language.Say(h) + ">"
		}
		t := tableUnder(heads...)
		for _, row := range a.Table.Rows {
			t.add(row...)
		}
		b.WriteString(t.String())
	}
	if len(a.Steps) > 0 {
		b.WriteString("\n")
		for i, s := range a.Steps {
			fmt.Fprintf(&b, "  %d. %s\n", i+1, language.Say(s))
		}
	}
	if len(a.Notes) > 0 {
		b.WriteString("\n")
		for _, n := range a.Notes {
			b.WriteString(language.Say(n) + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
