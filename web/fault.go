package web

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"net/http"

	"tared/session/text"
)

func (s *site) faults(nav []page, with bundled, t *drawings) faultDrawer {
	return func(w http.ResponseWriter, r *http.Request, status int, why text.Message) {
		l := languageOf(r)
		d := pageView{bundled: with, Page: faultPage, Nav: nav, Trouble: l.Say(why), Language: l, Languages: tongues(r, l)}
		if why.Code == "page.api.other-host" {
			d.Data = otherName{byDigits(r), hostOf(r.Host)}
		}
		w.Header().Set("Content-Security-Policy", with.policy)
		r = r.WithContext(context.WithValue(r.Context(), faultKey{}, nil)) // a fault in it is told plainly
		if b := s.draw(w, r, t.of(l), "layout.html", d); b != nil {
			write(w, status, ".html", b)
		}
	}
}

// manifest says how the page stands among the programs of a telephone (W3C, Web Application
// Manifest). A browser installs it where the address is a secure one.
var manifest = newAsset("application/manifest+json", []byte(`{"name":"tared","short_name":"tared","start_url":"/","scope":"/","display":"standalone","background_color":"#f5f3ee","theme_color":"#14171a",
"icons":[{"src":"/apple-touch-icon.png","sizes":"180x180","type":"image/png"},{"src":"/favicon.ico","sizes":"180x180","type":"image/png"}]}
`))

// iconSide is how large the icon is that telephones put on their first page, in pixels.
const iconSide = 180

// drawnIcon answers with icon.svg as a picture, for browsers that know no SVG.
func drawnIcon() http.HandlerFunc {
	m := image.NewRGBA(image.Rect(0, 0, iconSide, iconSide))
	draw.Draw(m, m.Bounds(), image.White, image.Point{}, draw.Src)
	ink := image.NewUniform(color.RGBA{0x14, 0x17, 0x1a, 0xff})
	// A frame and a beam on its foot, in the square of 32 that icon.svg has.
	for _, r := range [][4]int{{2, 2, 30, 5}, {2, 27, 30, 30}, {2, 2, 5, 30}, {27, 2, 30, 30}, {8, 11, 24, 14}, {15, 12, 18, 23}, {11, 21, 21, 24}} {
		draw.Draw(m, image.Rect(r[0]*iconSide/32, r[1]*iconSide/32, r[2]*iconSide/32, r[3]*iconSide/32), ink, image.Point{}, draw.Src)
	}
	var b bytes.Buffer
	_ = png.Encode(&b, m) // into memory
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "image/png")
		w.Header().Set("Cache-Control", "max-age=86400")
		_, _ = w.Write(b.Bytes())
	}
}
