package book

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"

	"tared/session/fact"
)

// Names are the people of a record, for a copy that is to go without them. The
// nil value hides nobody.
type Names struct {
	people []string
	find   *regexp.Regexp
}

// Names gives all people who are named in the records as having done something.
func (b *Book) Names() *Names {
	n := &Names{}
	add := func(s string) {
		s = strings.TrimSpace(s)
		if s != "" && s != "scale" && s != "tared" && !slices.ContainsFunc(n.people, func(p string) bool { return strings.EqualFold(p, s) }) {
			n.people = append(n.people, s)
		}
	}
	for _, batch := range b.batches {
		add(batch.By)
		for _, f := range batch.facts {
			add(f.Fact.By)
			switch d, _ := f.Body.(fact.Decided); d.Question {
			case "operator":
				add(d.Answer)
			case "confirm":
				add(d.With)
			}
		}
	}
	// The longest first: "Mara Lind" is not to be left as "person 1 Lind".
	longest := slices.Clone(n.people)
	slices.SortStableFunc(longest, func(a, b string) int { return len(b) - len(a) })
	for i, p := range longest {
		longest[i] = regexp.QuoteMeta(p)
	}
	if len(longest) > 0 {
		n.find = regexp.MustCompile(`(?i)(^|[^\pL\pN])(` + strings.Join(longest, "|") + `)($|[^\pL\pN])`)
	}
	return n
}

// Text gives a text with a number in place of each person's name.
func (n *Names) Text(s string) string {
	if n == nil || n.find == nil {
		return s
	}
	// The sign between two names belongs to both, so it is looked for again.
	for {
		at := n.find.FindStringSubmatchIndex(s)
		if at == nil {
			return s
		}
		name := s[at[4]:at[5]]
		k := slices.IndexFunc(n.people, func(p string) bool { return strings.EqualFold(p, name) })
		s = s[:at[4]] + fmt.Sprintf("person %d", k+1) + s[at[5]:]
	}
}

// Hide puts numbers for names in every text of what v points to.
func (n *Names) Hide(v any) {
	if n != nil {
		n.hide(reflect.ValueOf(v).Elem())
	}
}

func (n *Names) hide(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		if v.CanSet() {
			v.SetString(n.Text(v.String()))
		}
	case reflect.Slice:
		if v.CanSet() && v.Len() > 0 {
			// What it was made of keeps its names.
			c := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
			reflect.Copy(c, v)
			v.Set(c)
		}
		for i := range v.Len() {
			n.hide(v.Index(i))
		}
	case reflect.Pointer:
		if v.CanSet() && !v.IsNil() {
			c := reflect.New(v.Type().Elem())
			c.Elem().Set(v.Elem())
			v.Set(c)
			n.hide(c.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				n.hide(v.Field(i))
			}
		}
	}
}

type pageBatch struct {
	Made
	After   After
	Rows    []Line
	Curves  []template.HTML
	Picture template.HTML
	Traces  []template.HTML // of the pours
	Photos  [][]pictured    // by entry of After
}

// pictured is a photograph on a page; Data is empty where it is not at hand.
type pictured struct {
	Name string
	Data template.URL
}

// mostPictured is how much of photographs a page takes in, in bytes: what is too
// large for a letter is not read.
const mostPictured = 15 << 20

// WritePage writes batches as one HTML page that needs nothing beside it: no
// script, no file, no network. Words of people are only ever words in it. With
// names to hide, they are numbers. At is the time that it is written. With small,
// photographs stand in it as JPEG: it gives a small copy of one by its name; what
// it cannot give is named and left out.
func WritePage(w io.Writer, at time.Time, hide *Names, small func(name string) ([]byte, error), batches ...*Batch) error {
	left := mostPictured
	var all []pageBatch
	for _, n := range batches {
		p := pageBatch{Made: n.Made(), After: n.After(at, nil)}
		hide.Hide(&p.Made)
		hide.Hide(&p.After)
		p.Rows = p.Made.rows()
		// Our own drawings: they hold numbers, and names that are escaped.
		p.Picture = template.HTML(p.Made.Picture(false))
		for _, q := range p.Pours {
			p.Traces = append(p.Traces, template.HTML(q.Picture()))
		}
		for _, e := range p.After.Entries {
			p.Curves = append(p.Curves, template.HTML(e.Curve)) // our own drawing: it holds numbers only
			var shown []pictured
			for _, name := range e.Photos {
				q := pictured{Name: name}
				if small != nil {
					if b, err := small(name); err == nil && len(b) <= left {
						left -= len(b)
						q.Data = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(b)) // of bytes, whatever they are
					}
				}
				shown = append(shown, q)
			}
			p.Photos = append(p.Photos, shown)
		}
		all = append(all, p)
	}
	return page.Execute(w, map[string]any{"Batches": all, "At": at.Format("2006-01-02 15:04 -07:00"), "Hidden": hide != nil})
}

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"when":  func(t time.Time) string { return when(t) },
	"short": Short,
}).Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">
<title>{{if eq (len .Batches) 1}}{{with index .Batches 0}}{{.Mark}}: {{.Title}}{{end}}{{else}}Record of {{len .Batches}} batches{{end}}</title>
<style>
body { font: 16px/1.45 system-ui, sans-serif; color: #111; background: #fff; max-width: 62rem; margin: 0 auto; padding: 1.5rem 1rem; }
h1 { font-size: 1.6rem; margin: 0; } h2 { font-size: 1.15rem; margin: 1.4rem 0 0.4rem; }
.soft { color: #444; } article + article { border-top: 3px solid #111; margin-top: 2.5rem; padding-top: 1.5rem; }
.wide { overflow-x: auto; } table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 0.6rem 0.3rem 0; border-bottom: 1px solid #bbb; } .n { text-align: right; white-space: nowrap; }
pre, code { font-family: ui-monospace, monospace; overflow-wrap: anywhere; white-space: pre-wrap; } svg { width: 100%; max-width: 720px; height: auto; } td svg { min-width: 15rem; max-width: 22rem; } summary { cursor: pointer; padding: 0.6rem 0; } img { max-width: min(100%, 28rem); height: auto; } ul, ol { padding-left: 1.3rem; } s { color: #444; }
@media print { @page { size: A4; margin: 14mm; } body { font-size: 9.5pt; padding: 0; max-width: none; } article + article { break-before: page; border: 0; padding: 0; margin: 0; } }
</style>
</head>
<body>
<main>
{{range .Batches}}<article>
<h1>{{if .Title}}{{.Title}} · {{end}}{{.Mark}}</h1>
<p class="soft">{{.State}}; weighed by {{.By}}, {{when .Started}}{{if not .Finished.IsZero}} to {{when .Finished}}{{end}}{{if .Simulated}}; on simulated scales{{end}}</p>
{{if .Words}}<ul>{{range .Words}}<li>{{.}}</li>{{end}}</ul>{{end}}
<h2>As planned and as made</h2>
<div class="wide" tabindex="0" role="region" aria-label="Materials"><table>
<thead><tr><th scope="col">Material</th><th scope="col" class="n">Target, g</th><th scope="col" class="n">Went in, g</th><th scope="col" class="n">Off by, g</th><th scope="col" class="n">± U, g</th><th scope="col" class="n">Planned, %</th><th scope="col" class="n">Made, %</th><th scope="col">Verdict</th></tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{if .Addition}}+ {{end}}{{if .As}}{{.As}}, instead of {{end}}{{.Material}}</th><td class="n">{{.Target}}</td><td class="n">{{with .AtClosing}}<s>{{.}}</s> {{end}}{{if .Weighed}}{{.Delivered}}</td><td class="n">{{.Deviation.Signed}}</td><td class="n">{{.U.Doubt}}</td>{{else}}–</td><td class="n">–</td><td class="n">–</td>{{end}}<td class="n">{{.Planned}}{{if eq .Of "dry"}}<br><span class="soft">of all dry</span>{{end}}</td><td class="n">{{with .ShareAtClosing}}<s>{{.}}</s> {{end}}{{if .Weighed}}{{.Share}}{{if eq .Of "dry"}}<br><span class="soft">of all dry</span>{{end}}{{else}}–{{end}}</td><td>{{.VerdictWord}}</td></tr>{{range .Corrected}}<tr><td colspan="8" class="soft">Corrected: {{.}}</td></tr>{{end}}
{{end}}</tbody></table></div>
<p class="soft">Shares are percent of the base as it went in; U is what the weighing may be off.</p>
{{if .Picture}}<h2>Deviations, in units of the band</h2>
{{.Picture}}{{end}}
{{$traces := .Traces}}{{if .Pours}}<details><summary>The portions and pours, one by one</summary>
<div class="wide" tabindex="0" role="region" aria-label="Portions"><table>
<thead><tr><th scope="col">Entry</th><th scope="col">Material</th><th scope="col" class="n">Before, g</th><th scope="col" class="n">After, g</th><th scope="col" class="n">Went in, g</th><th scope="col" class="n">± U, g</th><th scope="col">Verdict</th><th scope="col">What the scale said</th></tr></thead>
<tbody>{{range $i, $p := .Pours}}<tr><td>{{.Seq}}</td><th scope="row">{{if .As}}{{.As}}, instead of {{end}}{{.Material}}</th>{{if eq .How "typed"}}<td></td><td></td>{{else}}<td class="n">{{.Before}}</td><td class="n">{{.After}}</td>{{end}}<td class="n">{{if .Void}}<s>{{.Delivered}}</s>{{else if .Is}}<s>{{.Delivered}}</s> {{.Is}}{{else}}{{.Delivered}}{{end}}</td><td class="n">{{if and .Is .Correction}}<s>{{.U.Doubt}}</s> {{.Correction.U.Doubt}}{{else}}{{.U.Doubt}}{{end}}</td><td>{{.Verdict}}{{if eq .How "typed"}}, typed by {{.By}}{{end}}{{with .Confirmed}}, confirmed by {{.}}{{end}}{{if .Void}} (no longer counts){{end}}{{with .Correction}}<br>{{if .Typed}}then typed{{else}}amended{{end}} by {{.By}}, {{when .At}}: {{.Reason}}{{end}}</td><td>{{range .Raw}}<code>{{.}}</code><br>{{end}}{{index $traces $i}}</td></tr>
{{end}}</tbody></table></div></details>{{end}}
{{$curves := .Curves}}{{$photos := .Photos}}{{if .After.Entries}}<h2>After the mixing</h2>
{{if .After.Water.Words}}<ul>{{range .After.Water.Words}}<li>{{.}}</li>{{end}}</ul>{{end}}
<ol>{{range $i, $e := .After.Entries}}<li>{{when .At}}, {{.By}}: {{if .Void}}<s>{{.Words}}</s> (struck out){{else}}{{.Words}}{{end}}{{range .Notes}} {{.}}{{end}} {{index $curves $i}}{{range index $photos $i}}{{if .Data}}<br><img src="{{.Data}}" alt="{{with $e.Tile}}Tile {{.}}{{else}}Photograph{{end}}"><br><span class="soft">Photograph {{.Name}}, made smaller</span>{{else}}<br><span class="soft">Photograph {{.Name}}: not on this page</span>{{end}}{{end}}</li>{{end}}</ol>{{end}}
{{if .Changes}}<h2>Amended</h2><ul>{{range .Changes}}<li>Entry {{.Of}}{{with .Material}} ({{.}}){{end}}: was {{.Old}}, is {{.New}}. {{.By}}, {{when .At}}: {{.Reason}}{{if .Late}} (after the batch was closed){{end}}</li>{{end}}</ul>{{end}}
<h2>What happened, in order</h2>
<ol>{{range .Facts}}<li value="{{.Seq}}"><span class="soft">{{when .At}}{{with .By}}, {{.}}{{end}}:</span> {{if .Void}}<s>{{.Words}}</s> (no longer counts){{else}}{{.Words}}{{end}}</li>{{end}}</ol>
<h2>The recipe as given</h2>
<pre>{{.Recipe}}</pre>
<h2>Is this record whole?</h2>
<p>{{if .Hash}}Closing hash <code>{{.Hash}}</code>; on the label of the bucket it is <code>{{short .Hash}}</code>.{{else}}The batch is not closed and has no closing hash.{{end}}</p>
<ul>{{range .Check}}<li><code>{{.}}</code></li>{{end}}</ul>
</article>
{{end}}</main>
<p class="soft">Written {{.At}}. A page can be changed by anyone; the journal it was made from cannot, unseen.{{if .Hidden}} People's names are numbers here.{{end}} Nothing here says that a glaze is fit for any use: the supplier's safety data sheet, your local code and licensed practice come first.</p>
</body>
</html>
`))
