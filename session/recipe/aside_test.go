package recipe

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What only looks like a material never shifts a weight: it is the title, or a note.
func TestWhatIsNoMaterial(t *testing.T) {
	const rest = "Quartz 60\nWhiting 40\n"
	for _, c := range []struct{ line, title, notes string }{
		{"Tidewrack cone 6", "Tidewrack cone 6", ""},
		{"Celadon cone 10", "Celadon cone 10", ""},
		{"Badeblau Kegel 8", "Badeblau Kegel 8", ""},
		{"Bath white, cone 04", "Bath white, cone 04", ""},
		{"Fire to 1222", "", "Fire to 1222"},
		{"Brennen bis 1240", "", "Brennen bis 1240"},
		{"Bisque at 1000", "", "Bisque at 1000"},
		{"Date: 25 November 2026", "", "Date: 25 November 2026"},
		{"25 November 2026", "", "25 November 2026"},
		{"Datum 3. März 2026", "", "Datum 3. März 2026"},
		{"Tel. 0123 456789", "", "Tel. 0123 456789"},
		{"Phone: 0123 456789", "", "Phone: 0123 456789"},
		{"Add water to 1.45", "", "Add water to 1.45"},
		{"Thin to 1.45", "", "Thin to 1.45"},
		{"Sieve through 80 mesh, then to 120", "", "Sieve through 80 mesh, then to 120"},
		{"Page 12", "", "Page 12"},
		{"Test 7", "", "Test 7"},
		{"Version: 3", "", "Version: 3"},
		{"Page 3 of 7", "", "Page 3 of 7"},
		{"Seite 3 von 7", "", "Seite 3 von 7"},
		{"Blatt 3 aus 7", "", "Blatt 3 aus 7"},
		{"Page 3 sur 7", "", "Page 3 sur 7"},
		{"Página 3 de 7", "", "Página 3 de 7"},
		{"Pagina 3 di 7", "", "Pagina 3 di 7"},
		{"Foglio 3 su 7", "", "Foglio 3 su 7"},
		{"Sheet 2 of 5", "", "Sheet 2 of 5"},
		{"Hoja 2", "", "Hoja 2"},
		{"Glaze No. 14", "", "Glaze No. 14"},
		{"Rezept Nr. 5", "", "Rezept Nr. 5"},
		{"Recette n° 5", "", "Recette n° 5"},
		{"Glasur 12", "", "Glasur 12"},
		{"Recipe by Ann, 1998", "", "Recipe by Ann, 1998"},
		{"Rezept von Ann 1998", "", "Rezept von Ann 1998"},
		{"pH 7", "", "pH 7"},
		{"Segerkegel 7", "Segerkegel 7", ""},
		{"Montre 8", "Montre 8", ""},
	} {
		for _, text := range []string{c.line + "\n" + rest, rest + c.line + "\n"} {
			r, err := Parse(text)
			require.NoError(t, err, text)
			assert.Len(t, r.Items, 2, text)
			assert.Equal(t, "60", r.Items[0].Share.RatString(), text)
			if strings.HasPrefix(text, c.line) {
				assert.Equal(t, c.title, r.Title, text)
				assert.Equal(t, c.notes, r.Notes, text)
			}
		}
	}
}

// And what is a material stays one.
func TestWhatIsAMaterial(t *testing.T) {
	for _, line := range []string{"Fire clay 20", "Fireclay 20", "Cone 6 clay 20", "Frit 3134 20", "Molochite 120 mesh 20", "Tile grog 20", "Test clay 20",
		"Bone ash 20", "Glaze stain 6464: 20", "March clay 20", "Potash feldspar 20", "Soda ash, light 20", "Batch clay 20", "OM-4 20",
		"Glaze frit 20", "Carbonate de calcium 20", "Blanc de Meudon 20", "Sheet mica 20", "No. 6 tile clay 20", "Recipe clay 20"} {
		r, err := Parse(line + "\nQuartz 80\n")
		require.NoError(t, err, line)
		require.Len(t, r.Items, 2, line)
		assert.Equal(t, "20", r.Items[0].Share.RatString(), line)
	}
}

func TestReadBack(t *testing.T) {
	r, err := Parse("Tidewrack cone 6\nQuartz 60\nWhiting 40\nWater 85%\n+ Copper carbonate 1.2\nFire to 1222\n")
	require.NoError(t, err)
	var got []string
	for _, m := range r.ReadBack() {
		got = append(got, m.String())
	}
	assert.Equal(t, []string{"Title: Tidewrack cone 6", "Base: Quartz 60, Whiting 40", "Additions: Copper carbonate 1.2", "First water: 85 %", "Note: Fire to 1222"}, got)
}

// Tables as spreadsheets write them, in five languages.
func TestSpreadsheets(t *testing.T) {
	for _, text := range []string{
		"Material;Anteil\nQuarz;60\nKreide;40\n",
		"sep=;\nMaterial;Anteil\nQuarz;60\nKreide;40\n",
		"sep=,\r\nmaterial,amount\r\nQuarz,60\r\nKreide,40\r\n",
		"Rohstoff;Menge (g)\nQuarz;60,0\nKreide;40,0\nSumme;100,0\n",
		"Matière première;Quantité\nQuarz;60\nKreide;40\nSomme;100\n",
		"Materia prima;Cantidad\nQuarz;60\nKreide;40\nSuma;100\n",
		"Materie prime\tPeso\nQuarz\t60\nKreide\t40\nTotale\t100\n",
		"| Material | Amount |\n|---|---:|\n| Quarz | 60 |\n| Kreide | 40 |\n| **Total** | **100** |\n",
		"Material,Amount\nQuarz,60\nKreide,40\n*Total*,*100*\n",
		"recipe,material,amount\nBath white,Quarz,60\nBath white,Kreide,40\n",
		"name;material;amount\nBath white;Quarz;60\nBath white;Kreide;40\n",
	} {
		r, err := Parse(text)
		if !assert.NoError(t, err, text) || !assert.Len(t, r.Items, 2, text) {
			continue
		}
		assert.Equal(t, "Quarz 60, Kreide 40", r.Items[0].Name+" "+r.Items[0].Share.RatString()+", "+r.Items[1].Name+" "+r.Items[1].Share.RatString(), text)
	}
	const two = "recipe,material,amount\nBath white,Quartz,60\nBath white,Whiting,40\nBath blue,Quartz,50\nBath blue,Whiting,50\n"
	_, err := Parse(two)
	assert.ErrorContains(t, err, "several recipes: Bath white, Bath blue")
	r, err := Named(two, "bath blue")
	require.NoError(t, err)
	assert.Equal(t, "bath blue", r.Title)
	require.Len(t, r.Items, 2)
	assert.Equal(t, "50", r.Items[0].Share.RatString())
	_, err = Named(two, "Bath red")
	assert.ErrorContains(t, err, "It holds: Bath white, Bath blue")
	_, err = Parse("material,amount\nQuartz,60\n**Total**,**90**\n")
	assert.ErrorContains(t, err, "add up to 60")
}
