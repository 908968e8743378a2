package web

import "tared/session/text"

// pages are all pages, those of the header in its order. To add one: its three files,
// and its entry here. The routes, the header, and the tests that look at each page at
// every size and have axe look at it go by this table.
var pages = []page{
	{Name: "bench", Path: "/{$}", In: "bench", Title: text.New("page.title.bench"), Nav: text.New("page.nav.bench"), data: benchData},
	{Name: "sheet", Path: "/sheet", In: "sheet", Title: text.New("page.title.sheet"), Nav: text.New("page.nav.sheet"), data: sheetData},
	{Name: "stock", Path: "/stock", In: "stock", Title: text.New("page.title.stock"), Nav: text.New("page.nav.stock"), data: stockData},
	{Name: "book", Path: "/book", In: "book", Title: text.New("page.title.book"), Nav: text.New("page.nav.book"), data: listData, book: true,
		looks: []string{"/book", "/book?find=nowhere"}},
	{Name: "scales", Path: "/scales", In: "scales", Title: text.New("page.title.scales"), Nav: text.New("page.nav.scales")},
	{Name: "calc", Path: "/calc", In: "calc", Title: text.New("page.title.calc"), Nav: text.New("page.nav.calc"), data: calcData},

	{Name: "batch", Path: "/book/{mark}", In: "book", Title: text.New("page.title.batch"), data: batchData, book: true,
		looks: []string{"/book/c261124", "/book/nothing"}},
	{Name: "glaze", Path: "/book/{mark}/glaze", In: "book", Title: text.New("page.title.glaze"), data: glazeData, book: true,
		looks: []string{"/book/c261124/glaze", "/book/nothing/glaze"}},
	{Name: "compare", Path: "/compare", In: "book", Title: text.New("page.title.compare"), data: compareData, book: true,
		looks: []string{"/compare?a=a261125&b=c261124", "/compare?mark=a261125&mark=c261124&mark=d261120", "/compare"}},
	{Name: "series", Path: "/series/{mark}", In: "book", Title: text.New("page.title.series"), data: seriesData, book: true,
		looks: []string{"/series/260302a", "/series/nothing"}},
	{Name: "label", Path: "/label/{mark}", In: "book", Title: text.New("page.title.label"), data: labelData, book: true,
		looks: []string{"/label/c261124", "/label/nothing"}},
	{Name: "proof", Path: "/proof", In: "book", Title: text.New("page.title.proof")},
	{Name: "workshop", Path: "/workshop", Title: text.New("page.title.workshop"), data: workshopData, looks: []string{"/workshop", "/workshop?find=quartz"}},
	{Name: "archive", Path: "/archive", Title: text.New("page.title.archive"), data: archiveData},
	{Name: "help", Path: "/help/{topic...}", Title: text.New("page.title.help"), data: helpData,
		looks: []string{"/help/", "/help/troubleshooting", "/help/journal", "/help/?find=silent", "/help/nothing"}},
	{Name: "pair", Path: "/pair", Title: text.New("page.title.pair"), data: pairData},
	{Name: "ca", Path: trustPath, Title: text.New("page.title.ca"), data: trustData},
	{Name: "devices", Path: "/devices", Title: text.New("page.title.devices"), data: devicesData},
}

// faultPage is what a browser gets where there is no page, or none for it.
var faultPage = page{Name: "fault", Title: text.New("page.title.fault")}
