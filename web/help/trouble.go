package help

import "strings"

// Troubles is the page to which errors lead.
const Troubles = "troubleshooting"

// sections says which section of Troubles tells more of an error, by its code or by the
// first word of its code.
var sections = map[string]string{
	"file": "files", "photo": "files", "ports.not-written": "files",
	"journal": "record", "derive": "record", "checkup.record-mend": "record", "checkup.disk-mend": "record",
	"copy": "copy", "checkup.no-backup-mend": "copy", "checkup.backup-mend": "copy", "control": "in-use", "checkup.page-mend": "page",
	"settings": "settings", "ports": "settings", "checkup.settings-mend": "settings", "checkup.rights-mend": "files", "checkup.open-dir-mend": "files",
	"checkup.clock-mend": "clock", "signer": "key", "field": "values", "slip": "values",
	"recipe": "recipe", "plan.unknown": "recipe", "plan.what-is": "recipe", "plan.hidden": "small", "sheet.aliquot-range": "small",
	"stock.too-little": "stock", "stock.most-little": "stock", "scale.silent": "silent", "scale.unsteady": "silent", "scale.no-weight": "silent",
	"page.api.other-host": "page", "page.api.not-paired": "pair",
	"checkup.rules-mend": "port", "checkup.no-ports-mend": "port", "checkup.port-unread": "port",
	"cli.no-scale-was-understood-on": "unknown-format", "cli.tared-formats-lists-what-is": "unknown-format", "cli.none-of-frames-holds-a": "unknown-format",
	"cli.scale-it-was-not-understood": "unknown-format",
}

// Link is where the page tells more of an error of this code; "" where it does not.
func Link(code string) string {
	if s := Section(code); s != "" {
		return "/help/" + Troubles + "#" + s
	}
	return ""
}

// Section gives the section of Troubles for an error of this code; "" where there is none.
func Section(code string) string {
	if s := sections[code]; s != "" {
		return s
	}
	area, _, _ := strings.Cut(code, ".")
	return sections[area]
}
