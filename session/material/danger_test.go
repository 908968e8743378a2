package material

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Poisons by their names in English, German, French, Spanish and Italian, old ones and
// those of their minerals: dictionaries and mineral lists, from memory.
const poisonNames = `lead
leaded glaze
plumbic oxide
plumbous oxide
plumbite
Bleioxid
Bleicarbonat
Bleiweiß
Bleigelb
Bleiglätte
Bleimennige
Bleifritte
Bleisilikat
Bleichromat
bleihaltige Fritte
Mennige
Bleiglanz
plomb
fritte plombeuse
minerai plombifère
minium
céruse
alquifoux
plomo
esmalte plomizo
minio
albayalde
alquifol
alcohol de alfarero
piombo
fritta piombifera
biacca
red lead
white lead
litharge
massicot
cerussite
cerussa
galena
galene
galène
anglesite
crocoite
wulfenite
vanadinite
mimetite
Naples yellow
lead bisilicate
lead sesquisilicate
lead monosilicate
flake white
Kremser Weiß
chrome yellow
chrome orange
tin ash
Paris yellow
Turner's yellow
cadmium
Kadmiumoxid
cadmio
rojo de cadmio
greenockite
cadmopone
PY35
PY37
PR108
PO20
arsenic
cobalt arsenate
sodium arsenite
arsenious oxide
cobalt arsenide
Arsen
Arsenik
Kupferarsenat
Kupferarsenit
Hüttenrauch
acide arsénieux
arséniate de cuivre
arsénite de cuivre
arsénico
arseniato de cobre
arsenico bianco
orpiment
oropimente
auripigment
realgar
Scheele's green
Schweinfurter Grün
Schweinfurt green
Paris green
emerald green
cobalt bloom
erythrite
smaltite
cobaltite
arsenopyrite
mispickel
white arsenic
antimony
lead antimonate
antimonous oxide
stibnite
stibium
Antimonoxid
Bleiantimonat
Natriumantimonat
Spießglanz
Brechweinstein
oxyde d'antimoine
antimoniate de plomb
óxido de antimonio
antimoniato di piombo
kermes
tartar emetic
Neapelgelb
jaune de Naples
amarillo de Nápoles
giallo di Napoli
bindheimite
sodium antimonate
leuconin
selenium
zinc selenide
sodium selenate
sodium selenite
Selen
Zinkselenid
Natriumselenit
sélénium
séléniure de zinc
selenio
seleniuro de cadmio
sulphoselenide
sulfoseleniuro
uranium
sodium uranate
uranyl nitrate
uraninite
Uran
Uranoxid
Urangelb
Natriumuranat
urane
uranate de soude
uranio
uranato sodico
pitchblende
Pechblende
yellowcake
carnotite
autunite
torbernite
thallium
thallous sulfate
thallic oxide
talio
tallio
mercury
mercuric oxide
mercurous chloride
quicksilver
Quecksilberoxid
mercure
oxyde mercurique
vif-argent
mercurio
azogue
ossido mercurico
cinnabar
Zinnober
cinabre
cinabrio
cinabro
vermilion
calomel
corrosive sublimate
beryllium oxide
beryllia
glucinium
glucina
Berylliumoxid
béryllium
glucine
berilio
berillio
berillia
bertrandite
beryl
potassium chromate
sodium dichromate
potassium bichromate
chromic acid
chromium trioxide
chromium(VI) oxide
hexavalent chromium
Kaliumchromat
Natriumdichromat
Kaliumbichromat
Chromsäure
Chromtrioxid
chromate de potassium
bichromate de potassium
acide chromique
trioxyde de chrome
cromato de potasio
dicromato de potasio
bicromato potásico
ácido crómico
trióxido de cromo
cromato di potassio
dicromato di potassio
acido cromico
triossido di cromo
zinc yellow
Zinkgelb
strontium yellow
lemon yellow
barium yellow
barium chromate
strontium chromate
iron chromate
vanadium pentoxide
vanadic acid
vanadic anhydride
ammonium vanadate
sodium metavanadate
Vanadiumpentoxid
Vanadinsäure
Ammoniumvanadat
Ammoniummetavanadat
pentoxyde de vanadium
anhydride vanadique
vanadate d'ammonium
pentóxido de vanadio
vanadato de amonio
pentossido di vanadio
vanadato di ammonio
vanadium oxide
asbestos
tremolite
anthophyllite
chrysotile
crocidolite
Asbest
amiante
asbeste
amianto
asbesto
sugar of lead
Bleizucker
sucre de Saturne
azúcar de plomo
sel de Saturne
not lead-free frit
contains lead
lead-free cadmium red
non-encapsulated cadmium red
red lead oxide
Bleihaltig
oxyde de plomb
ossido di piombo
óxido de plomo
metavanadato de amonio
white spinel 68555-05-5
58339-34-7
minium de plomb
Blei
Arsentrioxid
trióxido de arsénico
anidride arseniosa
Bleibisilikat
Bleiborat
Bleidioxid
Blei(II)-oxid
litargirio
Cadmiumsulfoselenid
anhydride arsénieux
óxido arsenioso
oropimento
estibina
Natriumdiuranat
nitrato de uranilo
yellow cake
argento vivo
sublimado corrosivo
chlorure mercureux
Chromsäureanhydrid
Chrom(VI)-oxid
giallo di stronzio
jaune de chrome
selenito sódico
sélénite de sodium
acido selenioso
Schwefelarsen
Giftmehl
king's yellow
Silberglätte
lead tin yellow
Pb-Fritte
Cd red`

// Names that only look like one, names that say they are free of it, and pigments that
// hold it bound: from the same.
const harmlessNames = `lead-free frit
leadless frit
unleaded glaze
non-lead frit
frit, contains no lead
Leadville clay
Leadhills clay
Leadbeater clay
leading brand kaolin
misleading
black lead
plumbago
plumb line chalk
bleifreie Fritte
Bleicherde
Bleichton
gebleichter Kaolin
Bleistift
Reißblei
fritte sans plomb
aplomb
plombagine
frita sin plomo
plomada
fritta senza piombo
strapiombo
piombaggine
cadmium-free red stain
rojo sin cadmio
cadmiumfreies Rot
academy clay
arsenic-free cobalt
Arsenal clay
antimony-free
selenite
selenita
Selenit
Selena clay
select kaolin
sel
sale
sal común
Uranus clay
geranium
Duran glass
restaurant glass
Durango clay
uranium-free
talc
talco
silicio metallico
cristallo
tallow
Merkur
chromite
Chromit
cromita
cromite
chromium oxide green
chrome-tin pink
chromatic pink stain
monochromatic
chromatography
zircon-vanadium blue
zirconium vanadium yellow
tin-vanadium yellow
vanadium-zircon turquoise
vanadium stain
vanadium-free
lead free
fritte exempte de plomb
ne contient pas de plomb
frita libre de plomo
frita exenta de plomo
no contiene plomo
fritta priva di piombo
fritta esente da piombo
non contiene piombo
ohne Blei
kein Blei
frei von Blei
free of lead
crocus martis
does not contain lead
without lead
no lead or cadmium
encapsulated cadmium red
encapsulated cadmium-selenium red
eingekapseltes Cadmiumrot
68186-95-8
102184-95-2
Cr2(SO4)3
Cr(OH)3
CrPO4
Cr(NO3)3·9H2O
Ca3Cr2(SiO4)3
FeCr2O4
V2O4
VOSO4
VO2
V2O3
Cr2O3·3H2O
ZrSiO4
CaSO4·2H2O
Silver sand
calcined kaolin
calcium carbonate
calcinato
emerald stain
Cadbury cocoa ash
Cadiz red clay
OM-4
titanium white
barite
selce
terra di Siena`

func TestPoisonsAreBlocked(t *testing.T) {
	n := 0
	for name := range strings.SplitSeq(poisonNames, "\n") {
		for _, written := range []string{name, strings.ToUpper(name), " " + name + " ", name + " (325 mesh)"} {
			m, ok := Lookup(written)
			assert.True(t, ok, written)
			assert.NotEmpty(t, m.Blocked, "%s is %s", written, m.Name)
			assert.Empty(t, Default().Suggest(written), written)
			n++
		}
	}
	assert.Greater(t, n, 600)
}

func TestWhatOnlyLooksLikeAPoisonPasses(t *testing.T) {
	for name := range strings.SplitSeq(harmlessNames, "\n") {
		m, _ := Lookup(name)
		assert.Empty(t, m.Blocked, name)
	}
	for name, want := range map[string]string{"encapsulated cadmium red": "Encapsulated cadmium stain", "cadmium red (inclusion)": "Encapsulated cadmium stain", "zirconium vanadium turquoise": "Vanadium stain"} {
		m, _ := Lookup(name)
		assert.Equal(t, want, m.Name)
		assert.NotEmpty(t, m.Lines, name)
	}
	// Only the element that is governed is free, and what is said twice is not.
	for _, name := range []string{"lead-free cadmium red", "not lead-free frit", "cadmium-free white lead", "encapsulated cadmium red with lead", "unencapsulated cadmium red", "not encapsulated cadmium red", "zirconium vanadium pentoxide", "free lead silicate"} {
		m, _ := Lookup(name)
		assert.NotEmpty(t, m.Blocked, name)
	}
}

// One word in two, with a hyphen or a blank: the spelling of many a recipe, common practice,
// no source. What is free of a poison, or is none, stays so.
func TestPoisonsInTwoWords(t *testing.T) {
	for name, want := range map[string]string{
		"Chrom-Gelb": "Lead compounds", "Chrom Gelb": "Lead compounds", "CHROM-GELB": "Lead compounds", "Neapel-Gelb": "Lead compounds", "Blei-Zucker": "Lead compounds",
		"Queck-Silber": "Mercury compounds", "Queck Silber": "Mercury compounds", "Auri-Pigment": "Arsenic compounds", "Rausch-Gelb": "Arsenic compounds",
		"Uran-Gelb": "Uranium compounds", "Massi-cot": "Lead compounds", "Selen-Dioxid": "Selenium compounds",
	} {
		m, ok := Lookup(name)
		assert.True(t, ok, name)
		assert.NotEmpty(t, m.Blocked, name)
		if want != "Lead compounds" || !strings.HasPrefix(name, "Neapel") {
			assert.Equal(t, want, m.Name, name)
		}
		assert.Empty(t, Default().Suggest(name), name)
	}
	for _, name := range []string{"Blei-frei", "blei frei", "bleifreie-Fritte", "lead-free frit", "cadmium-free red", "Cadmium free", "frita sin plomo", "sans-plomb", "double iron oxide",
		"marble-ivory", "Natur-Anatas", "sable ilmenite", "Kali-Feldspat", "Chrom-Oxid", "Chrom Zinn Rosa", "Zirkon-Praseodym-Gelb", "Titan-Gelb"} {
		m, _ := Lookup(name)
		assert.Empty(t, m.Blocked, name)
	}
}

// Formulas of what is sold or occurs as a mineral; each element of the list, chromium(VI)
// and vanadium(V): the oxidation numbers are those of any textbook.
func TestPoisonsByFormula(t *testing.T) {
	for entry, formulas := range map[string]string{
		"Lead compounds":         "PbO Pb3O4 PbO2 PbCO3 2PbCO3·Pb(OH)2 Pb3(CO3)2(OH)2 PbS PbSiO3 PbSi2O5 PbO·2SiO2 PbCrO4 Pb2Sb2O7 Pb(NO3)2 pbo PBO PB3O4 pbco3 Pb₃O₄",
		"Cadmium pigment":        "CdO CdS CdSe CdS·CdSe CdCO3 CDS cdse",
		"Arsenic compounds":      "As2O3 As2O5 As2S3 As4S4 FeAsS Ca3(AsO4)2 AS2O3 as2o3",
		"Antimony compounds":     "Sb2O3 Sb2O5 Sb2S3 NaSbO3 SB2O3",
		"Selenium compounds":     "Se SeO2 Na2SeO3 BaSeO3",
		"Uranium compounds":      "UO2 UO3 U3O8 Na2U2O7 u3o8",
		"Thallium compounds":     "Tl2SO4 TlCl",
		"Mercury compounds":      "HgS HgO HgCl2 Hg2Cl2 HGS",
		"Beryllium compounds":    "BeO Be3Al2Si6O18 BEO",
		"Chromium(VI) compounds": "CrO3 K2CrO4 Na2Cr2O7·2H2O (NH4)2Cr2O7 BaCrO4 SrCrO4 CaCrO4 ZnCrO4 Fe2(CrO4)3 Cr2(CrO4)3 CRO3 na2cr2o7",
		"Vanadium pentoxide":     "V2O5 NH4VO3 NaVO3 Na3VO4 KVO3 BiVO4 v2o5 nh4vo3",
	} {
		for f := range strings.FieldsSeq(formulas) {
			m, ok := Lookup(f)
			assert.True(t, ok, f)
			assert.Equal(t, entry, m.Name, f)
			assert.NotEmpty(t, m.Blocked, f)
			if len(f) == 2 {
				continue // "Se" is a word of other languages, too
			}
			m, _ = Lookup("technical " + f)
			assert.NotEmpty(t, m.Blocked, "in a name: %s", f)
			assert.Empty(t, Default().Suggest(f), f)
		}
	}
	m, _ := Lookup("K2Cr2O7")
	assert.NotEmpty(t, m.Blocked)
	for _, f := range strings.Fields("Cr2O3 Cr(OH)3 Cr2(SO4)3 KCr(SO4)2·12H2O CrPO4 Cr(NO3)3 Cr2(CO3)3 Ca3Cr2(SiO4)3 Cr2O3·3H2O FeCr2O4 CoCr2O4 V2O4 VO2 V2O3 VOSO4 CaCO3 ZrSiO4 BaSO4 SnO2") {
		p, err := ParseFormula(f)
		require.NoError(t, err)
		assert.Empty(t, p.Poison(), f)
	}
}

// Nothing harmless is offered for what may be a poison with a typing fault, nor a
// poison for anything.
func TestNothingIsSuggestedAcrossTheBorder(t *testing.T) {
	for _, name := range strings.Split("As2O3 As203 AsO3 arsnic arsenc_oxide leed_oxide led_oxide leadd Cadmim_red cadmum_yellow Vandium_pentoxide uraniun_oxide quicksilvr Seleniun Kaliumdichromt Bleiglatte antimny_oxide mercry litharg minnium Mennigge barum_chromate merkury berylium Bleioxd plom oxyde_de_plom piomb thalium", " ") {
		name = strings.ReplaceAll(name, "_", " ")
		m, ok := Lookup(name)
		assert.True(t, !ok || m.Blocked != "", name)
		assert.Empty(t, Default().Suggest(name), name)
	}
	rapid.Check(t, func(t *rapid.T) {
		// A known name with up to two letters changed.
		all := Default().All()
		m := all[rapid.IntRange(0, len(all)-1).Draw(t, "entry")]
		names := m.names()
		r := []rune(names[rapid.IntRange(0, len(names)-1).Draw(t, "name")])
		for range rapid.IntRange(1, 2).Draw(t, "faults") {
			r[rapid.IntRange(0, len(r)-1).Draw(t, "at")] = rapid.RuneFrom([]rune("abcdefghiklmnoprstuz")).Draw(t, "letter")
		}
		for _, s := range Default().Suggest(string(r)) {
			to, _ := Lookup(s)
			assert.Empty(t, to.Blocked, "%s: a poison is offered", string(r))
			if m.Blocked != "" {
				t.Fatalf("%q may be %s, and %q is offered", string(r), m.Name, s)
			}
		}
	})
}

// Whatever parses as a formula with a poison in it does not pass, whoever writes it how.
func FuzzPoisonFormula(f *testing.F) {
	for _, s := range []string{"PbO", "US", "CU2O", "BASO4", "V2O5·SiO2", "(NH4)VO3", "K2Cr2O7", "As", "2PbCO3*Pb(OH)2", "Si O2 Pb", "SeO₂", "U", "CoAs2", "Cr2(CrO4)3", "TlSO4.7H2O"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParseFormula(s)
		if err != nil || p.Poison() == "" {
			return
		}
		if m, ok := Lookup(s); !ok || m.Blocked == "" {
			t.Fatalf("%q holds what %s block, and is taken for %q", s, p.Poison(), m.Name)
		}
	})
}

// The same with formulas that are made up, and in the midst of a name.
func TestPoisonFormulasNeverPass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		element := rapid.SampledFrom([]string{"Pb", "Cd", "As", "Sb", "Se", "U", "Tl", "Hg", "Be", "Si", "O", "Ca", "Zr", "Fe", "K", "S", "Cl", "H", "V", "Cr"})
		s := ""
		for range rapid.IntRange(1, 4).Draw(t, "parts") {
			s += element.Draw(t, "element") + rapid.SampledFrom([]string{"", "2", "3", "5", "7"}).Draw(t, "count")
		}
		p, err := ParseFormula(s)
		require.NoError(t, err)
		if p.Poison() == "" {
			return
		}
		m, ok := Lookup(s)
		assert.True(t, ok && m.Blocked != "", s)
		if strings.ContainsAny(s, "2357") {
			m, ok = Lookup("fine " + s + " powder")
			assert.True(t, ok && m.Blocked != "", s)
		}
	})
}

// A user who knows what is in a bag can say so, and only for that bag.
func TestOwnEntryLiftsABlock(t *testing.T) {
	n, err := Default().Overlay(strings.NewReader(`{"materials":[{"name":"Old tile calcine of lead","kind":"opacifier"}]}`))
	require.NoError(t, err)
	m, ok := n.Lookup("old tile calcine of lead")
	assert.True(t, ok)
	assert.Empty(t, m.Blocked)
	m, _ = n.Lookup("lead oxide")
	assert.NotEmpty(t, m.Blocked)
}

// In capitals a formula of copper is one of carbon and uranium too. It stays blocked, and says
// what to write for the harmless one; a poison that is none in small letters says nothing. The
// formulas: IUPAC Red Book 2005, IR-4.2: a symbol is a capital and at most one small letter,
// so that each spelling is another compound.
func TestCapitalsSayWhatToWrite(t *testing.T) {
	for name, want := range map[string]string{
		"CUO":         "if Copper oxide was meant, write CuO ",
		"CU2O":        "if Red copper oxide was meant, write Cu2O ",
		"black CU2O":  "if Red copper oxide was meant, write Cu2O ",
		"CU2(OH)2CO3": "if Copper carbonate was meant, write Cu2(OH)2CO3 ",
		"CUSO4·5H2O":  "if Copper sulfate was meant, write CuSO4·5H2O ",
		"CUSIO3":      "write CuSiO3 ", // 2 + 4 - 6 = 0
		"CUS":         "write CuS ",
		"UO2":         "",
		"U3O8":        "",
		"CUO2":        "", // CuO2 is nothing that anybody sells
		"PBO":         "",
		"SB2O3":       "",
		"AS2O3":       "",
		"CUHASO3":     "", // copper arsenite
		"NASBO3":      "",
		"Uranium":     "",
		"CDSE":        "",
		"PB3O4, CUO":  "", // lead stays whatever the other is
		"uranium CUO": "",
	} {
		m, ok := (*Table)(nil).Or().Lookup(name)
		require.True(t, ok, name)
		assert.NotEmpty(t, m.Blocked, name)
		if want == "" {
			assert.NotContains(t, m.Blocked, "meant", name)
		} else {
			assert.Contains(t, m.Blocked, want, name)
		}
	}
	m, _ := (*Table)(nil).Or().Lookup("CuO")
	assert.Empty(t, m.Blocked)
}
