package web

import (
	"cmp"
	"net/http"
	"strconv"
	"strings"

	"tared/session/text"
)

type labelPage struct {
	Mark, Paper   string
	Papers, Sizes []choice
	Only          string // the address on it, where that leads to this machine only
	SVG           svg
	Printer       bool // there is one for labels
}

// choice leads to the same page otherwise.
type choice struct {
	Link  string
	Words text.Message
	Now   bool // it is so already
}

// labelPapers are the papers on which labels are printed, with the sheets that suit each.
var labelPapers = []struct {
	name, sheets string
	words        text.Message
}{
	{"a4", "2x4 2x7 99.1x67.7mm 99.1x42.3mm", text.Written("A4")},
	{"letter", "2x4 2x6 101.6x84.6mm 101.6x50.8mm", text.New("page.label.letter")},
}

// postPrint has a label printed.
func (s *site) postPrint(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Batch string `json:"batch"`
		Count int    `json:"count"`
	}
	if read(w, r, &p) {
		s.done(w, r, ok, s.cfg.Printer.Print(r.Context(), p.Batch, s.link(r), p.Count))
	}
}

// labelData draws the labels of a batch on a page of paper.
func labelData(s *site, r *http.Request) (any, error) {
	p, link := labelPage{Mark: r.PathValue("mark"), Printer: s.cfg.Printer != nil}, s.link(r)
	if OnlyHere(link) {
		p.Only = link
	}
	sheet, count := cmp.Or(r.FormValue("sheet"), "2x4"), r.FormValue("count")
	at := 0
	for i, paper := range labelPapers {
		if r.FormValue("paper") == paper.name {
			at = i
		}
	}
	for i, paper := range labelPapers {
		p.Papers = append(p.Papers, choice{"?paper=" + paper.name, paper.words, i == at})
	}
	paper := labelPapers[at]
	p.Paper = paper.name
	for _, of := range strings.Fields(paper.sheets) {
		p.Sizes = append(p.Sizes, choice{"?paper=" + paper.name + "&sheet=" + of, sheetWords(of), of == sheet && count == ""})
	}
	p.Sizes = append(p.Sizes, choice{"?paper=" + paper.name + "&sheet=2x4&count=1", text.New("page.label.one"), count == "1"})
	if at > 0 {
		sheet += " " + paper.name
	}
	drawn, err := s.cfg.Book.Label(r.Context(), p.Mark, sheet, count, link)
	p.SVG = svg(drawn)
	return p, err
}

// sheetWords says what a sheet of labels is: columns by rows, or their size.
func sheetWords(sheet string) text.Message {
	if size, mm := strings.CutSuffix(sheet, "mm"); mm {
		w, h, _ := strings.Cut(size, "x")
		return text.New("page.label.size", text.Number("width", w), text.Number("height", h))
	}
	columns, rows, _ := strings.Cut(sheet, "x")
	c, _ := strconv.Atoi(columns)
	r, _ := strconv.Atoi(rows)
	return text.New("page.label.on-page", text.Count("count", c*r))
}
