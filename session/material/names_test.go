package material

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is written on bags and in recipes, in English, German, French, Spanish and
// Italian: common words of the trade and of dictionaries, from memory.
var onBags = []struct{ entry, en, de, fr, es, it string }{
	{"Quartz", "silica; flint; potter's flint; ground quartz; silica flour; silex; quartz powder; 325 mesh silica; silica sand; ganister", "Quarz; Quarzmehl; Quarzsand; Feuerstein; Flint", "silice; quartz; silex; sable siliceux; farine de silice", "sílice; cuarzo; pedernal; sílex; arena sílicea; harina de sílice", "silice; quarzo; selce; farina di silice; sabbia silicea"},
	{"Cristobalite", "cristobalite; calcined silica", "Cristobalit; Kristobalit; Cristobalitmehl", "cristobalite", "cristobalita", "cristobalite"},
	{"Kaolin", "china clay; kaolinite; EPK; grolleg; washed kaolin", "Kaolin; Porzellanerde; Kaolinerde; Chinaclay", "kaolin; terre à porcelaine; argile à porcelaine", "caolín; arcilla de porcelana", "caolino; terra da porcellana"},
	{"Calcined kaolin", "calcined china clay; metakaolin; molochite; chamotted kaolin", "Kaolin gebrannt; Kaolinschamotte; Metakaolin", "kaolin calciné; métakaolin; molochite", "caolín calcinado; metacaolín", "caolino calcinato; metacaolino"},
	{"Ball clay", "ball clay; blue clay; plastic clay", "Ballclay; Bindeton; Fetton; Steingutton", "argile plastique; argile grasse; ball clay", "arcilla de bola; arcilla plástica", "argilla plastica; argilla grassa"},
	{"Fire clay", "fireclay; stoneware clay; refractory clay", "Feuerfestton; Steinzeugton; Schamotteton", "argile réfractaire; argile à grès", "arcilla refractaria; arcilla de gres", "argilla refrattaria; argilla da gres"},
	{"Grog", "grog; chamotte; fire sand; calcined clay", "Schamotte; Schamottemehl", "chamotte", "chamota; chamote", "chamotte; sciamotta"},
	{"Red clay", "terracotta; earthenware clay; red marl; slip clay", "Rotton; Irdenware; Lehm; Terrakottaton", "terre rouge; argile rouge; terre cuite", "arcilla roja; barro rojo; terracota", "argilla rossa; terracotta; terra rossa"},
	{"Bentonite", "bentonite; montmorillonite; western bentonite", "Bentonit; Montmorillonit; Bleicherde", "bentonite", "bentonita", "bentonite"},
	{"Hectorite", "hectorite; macaloid; smectite", "Hectorit", "hectorite", "hectorita", "ettorite; hectorite"},
	{"Potash feldspar", "potash spar; K-spar; orthoclase; microcline; adularia", "Kalifeldspat; Orthoklas; Mikroklin", "feldspath potassique; orthose; microcline", "feldespato potásico; ortosa; ortoclasa", "feldspato potassico; ortoclasio"},
	{"Soda feldspar", "soda spar; Na-spar; albite", "Natronfeldspat; Albit", "feldspath sodique; albite", "feldespato sódico; albita", "feldspato sodico; albite"},
	{"Lime feldspar", "anorthite; calcium feldspar", "Kalkfeldspat; Anorthit", "feldspath calcique; anorthite", "feldespato cálcico; anortita", "feldspato calcico; anortite"},
	{"Nepheline syenite", "neph sy; nepheline; syenite", "Nephelinsyenit; Nephelin", "syénite néphélinique; néphéline", "nefelina sienita; sienita nefelínica", "nefelinsienite; sienite nefelinica"},
	{"Cornish stone", "cornwall stone; china stone; DF stone; purple stone; carolina stone; petuntse", "Cornish Stone; Pegmatit; Petuntse", "pegmatite; pierre de Cornouailles", "piedra de Cornualles; pegmatita", "pietra di Cornovaglia; pegmatite"},
	{"Petalite", "castorite", "Petalit", "pétalite", "petalita", "petalite"},
	{"Lithium feldspar", "lithia ore", "", "", "", ""},
	{"Lepidolite", "lithia mica", "Lepidolith; Lithiumglimmer", "lépidolite", "lepidolita", "lepidolite"},
	{"Spodumene", "", "Spodumen", "spodumène", "espodumena; espodúmeno", "spodumene"},
	{"Whiting", "whiting; chalk; limestone; calcite; marble dust; ground limestone; Paris white; calcium carb", "Kreide; Schlämmkreide; Calciumcarbonat; Kalziumkarbonat; Kalkspat; Kalksteinmehl; Marmormehl", "craie; blanc de Meudon; blanc d'Espagne; blanc de Troyes; carbonate de chaux; calcaire", "blanco de España; carbonato cálcico; carbonato de calcio; caliza; mármol molido", "carbonato di calcio; calcare; bianco di Meudon; bianco di Spagna; polvere di marmo"},
	{"Creta", "", "", "", "creta", ""},
	{"Dolomite", "dolomite; dolomitic limestone; magnesian limestone", "Dolomit; Dolomitmehl", "dolomie; dolomite", "dolomita; dolomía", "dolomite; dolomia"},
	{"Magnesite", "magnesite", "Magnesit", "magnésite; giobertite", "magnesita", "magnesite; giobertite"},
	{"Magnesium carbonate", "mag carb light; magnesia alba; hydromagnesite", "Magnesiumcarbonat leicht; Magnesia alba", "carbonate de magnésium léger", "carbonato de magnesio ligero", "carbonato di magnesio leggero"},
	{"Heavy magnesium carbonate", "mag carb heavy", "", "", "", ""},
	{"Talc", "talc; steatite; soapstone; French chalk; talcum", "Talk; Talkum; Speckstein; Steatit", "talc; stéatite; craie de Briançon", "talco; esteatita; jaboncillo", "talco; steatite; pietra saponaria"},
	{"Wollastonite", "wollastonite; calcium metasilicate; table spar", "Wollastonit; Tafelspat", "wollastonite", "wollastonita", "wollastonite"},
	{"Bone ash", "bone ash; calcined bone; hydroxyapatite", "Knochenasche", "cendre d'os", "ceniza de huesos", "cenere d'ossa"},
	{"Tricalcium phosphate", "tricalcium phosphate; TCP", "Tricalciumphosphat", "phosphate tricalcique", "fosfato tricálcico", "fosfato tricalcico"},
	{"Fluorspar", "fluorspar; fluorite; Blue John", "Flussspat; Flußspat; Fluorit; Calciumfluorid", "spath fluor; fluorine; fluorite; fluorure de calcium", "espato flúor; fluorita; fluoruro de calcio", "spatofluore; fluorite; fluoruro di calcio"},
	{"Cryolite", "cryolite; kryolite; Greenland spar; sodium aluminium fluoride", "Kryolith; Eisstein", "cryolithe; cryolite", "criolita", "criolite"},
	{"Wood ash", "wood ash; hardwood ash; mixed ash; straw ash", "Holzasche; Strohasche", "cendre de bois; cendres végétales", "ceniza de madera; ceniza de leña", "cenere di legna"},
	{"Rice husk ash", "rice husk ash", "", "", "", ""},
	{"Zinc oxide", "zinc white; calcined zinc; philosopher's wool", "Zinkoxid; Zinkweiß", "oxyde de zinc; blanc de zinc", "óxido de zinc; óxido de cinc; blanco de zinc", "ossido di zinco; bianco di zinco"},
	{"Barium carbonate", "barium carb; witherite", "Bariumcarbonat; Bariumkarbonat; Witherit", "carbonate de baryum; carbonate de baryte; withérite", "carbonato de bario; witherita", "carbonato di bario; witherite"},
	{"Barium sulfate", "barite; blanc fixe; heavy spar", "Schwerspat; Baryt; Blanc fixe", "barytine; blanc fixe", "barita; baritina", "barite; baritina"},
	{"Strontium carbonate", "strontianite", "Strontiumcarbonat; Strontianit", "carbonate de strontium", "carbonato de estroncio", "carbonato di stronzio"},
	{"Lithium carbonate", "lith carb", "Lithiumcarbonat", "carbonate de lithium; carbonate de lithine", "carbonato de litio", "carbonato di litio"},
	{"Borax", "borax; tincal; borax 10 mol; sodium borate", "Borax; Natriumtetraborat; Tinkal", "borax; tétraborate de sodium", "bórax; tincal; tetraborato de sodio", "borace; tetraborato di sodio"},
	{"Boric acid", "boracic acid; sassolite; orthoboric acid", "Borsäure", "acide borique", "ácido bórico", "acido borico"},
	{"Colemanite", "colemanite; borocalcite", "Colemanit", "colémanite", "colemanita", "colemanite"},
	{"Ulexite", "ulexite; boronatrocalcite", "Ulexit; Boronatrocalcit", "ulexite", "ulexita", "ulexite"},
	{"Gerstley borate", "Gerstley borate", "", "", "", ""},
	{"Soda ash", "soda ash", "kalzinierte Soda; Natriumcarbonat", "carbonate de soude; soude Solvay", "carbonato de sodio; ceniza de sosa; sosa Solvay", "carbonato di sodio; soda Solvay"},
	{"Ash", "dense / light ash", "", "", "", ""},
	{"Soda", "", "Soda", "", "", ""},
	{"Baking soda", "", "Natron = baking soda", "", "", ""},
	{"Pearl ash", "pearl ash; salts of tartar", "Pottasche; Kaliumcarbonat", "perlasse; carbonate de potassium", "carbonato de potasio; ceniza de perla", "carbonato di potassio"},
	{"Frit", "frit; borax frit; alkaline frit; calcium borate frit; leadless frit", "Fritte; Boraxfritte; Alkalifritte", "fritte; fritte boracique; fritte alcaline", "frita; frita borácica; frita alcalina", "fritta; fritta borica; fritta alcalina"},
	{"Alumina", "calcined alumina; corundum", "Tonerde; Aluminiumoxid; Korund", "alumine calcinée; corindon", "alúmina calcinada; corindón", "allumina calcinata; corindone"},
	{"Alumina hydrate", "alumina hydrate; ATH; gibbsite", "Tonerdehydrat; Aluminiumhydroxid", "alumine hydratée", "alúmina hidratada", "allumina idrata"},
	{"Tin oxide", "tin oxide; stannic oxide; cassiterite", "Zinnoxid", "oxyde d'étain; potée d'étain", "óxido de estaño; casiterita", "ossido di stagno; cassiterite"},
	{"Zircon", "zirconium silicate; zircon flour; opacifier", "Zirkonsilikat; Zirkon; Zirkonmehl", "silicate de zirconium; zircon", "silicato de circonio; circón; zircón", "silicato di zirconio"},
	{"Zircone", "", "", "", "", "zircone"},
	{"Zirconium oxide", "zirconium dioxide; baddeleyite", "Zirkonoxid; Zirkonia", "oxyde de zirconium", "óxido de circonio; circona", "ossido di zirconio; zirconia"},
	{"Titanium dioxide", "titanium white; anatase; rutile pigment", "Titandioxid; Titanweiß; Anatas", "dioxyde de titane; blanc de titane", "dióxido de titanio; blanco de titanio", "biossido di titanio; bianco di titanio"},
	{"Rutile", "rutile light", "Rutil", "rutile", "rutilo", "rutilo"},
	{"Ilmenite", "menaccanite", "Ilmenit; Titaneisen", "ilménite", "ilmenita", "ilmenite"},
	{"Red iron oxide", "ferric oxide; hematite; haematite; Indian red; Spanish red; Venetian red; RIO", "Eisenoxid rot; Eisenrot; Hämatit; Caput mortuum; Englischrot; Polierrot", "oxyde de fer rouge; rouge de fer; hématite; rouge anglais; colcotar", "óxido de hierro rojo; hematita; almagre; almagra", "ossido di ferro rosso; ematite; rosso inglese"},
	{"Crocus martis", "crocus martis", "", "", "", ""},
	{"Black iron oxide", "magnetite; ferroso-ferric oxide; spangles; iron scale", "Eisenoxid schwarz; Magnetit; Hammerschlag", "oxyde de fer noir; magnétite; battitures", "óxido de hierro negro; magnetita", "ossido di ferro nero; magnetite"},
	{"Yellow ochre", "yellow ochre; limonite", "Ocker; gelber Ocker", "ocre jaune", "ocre amarillo", "ocra gialla"},
	{"Umber", "umber", "Umbra", "terre d'ombre", "tierra de sombra", "terra d'ombra"},
	{"Sienna", "sienna", "Siena", "terre de Sienne", "siena", "terra di Siena"},
	{"Iron sulfate", "copperas; green vitriol; ferrous sulfate", "Eisenvitriol; Eisensulfat; grüner Vitriol", "couperose verte; vitriol vert; sulfate de fer", "caparrosa verde; vitriolo verde; sulfato ferroso", "vetriolo verde; solfato ferroso"},
	{"Cobalt oxide", "cobalt oxide black", "Kobaltoxid; Cobaltoxid", "oxyde de cobalt", "óxido de cobalto", "ossido di cobalto"},
	{"Cobalt carbonate", "cobalt carb", "Kobaltkarbonat", "carbonate de cobalt", "carbonato de cobalto", "carbonato di cobalto"},
	{"Cobalt sulfate", "", "Kobaltsulfat", "", "", ""},
	{"Cobalt chloride", "", "Kobaltchlorid", "", "", ""},
	{"Copper oxide", "tenorite", "Kupferoxid schwarz", "oxyde de cuivre noir", "óxido de cobre negro", "ossido di rame nero"},
	{"Red copper oxide", "cuprite", "", "", "", ""},
	{"Copper carbonate", "malachite; green verditer", "Kupfercarbonat; Malachit", "carbonate de cuivre; malachite", "carbonato de cobre; malaquita", "carbonato di rame; malachite"},
	{"Copper sulfate", "bluestone; blue vitriol; chalcanthite", "Kupfervitriol; Kupfersulfat; Blaustein", "vitriol bleu; couperose bleue", "vitriolo azul; piedra lipes", "vetriolo azzurro"},
	{"Manganese dioxide", "pyrolusite; manganese black; wad", "Braunstein; Mangandioxid; Pyrolusit", "bioxyde de manganèse; pyrolusite", "dióxido de manganeso; bióxido de manganeso; pirolusita", "biossido di manganese; pirolusite"},
	{"Manganese carbonate", "rhodochrosite", "Mangancarbonat", "carbonate de manganèse", "carbonato de manganeso", "carbonato di manganese"},
	{"Black nickel oxide", "black nickel oxide", "", "", "", ""},
	{"Nickel carbonate", "zaratite", "Nickelcarbonat", "carbonate de nickel", "carbonato de níquel", "carbonato di nichel"},
	{"Nickel oxide", "", "Nickeloxid grün", "oxyde de nickel vert", "óxido de níquel", "ossido di nichel"},
	{"Nickel", "", "", "", "", "nichelio"},
	{"Chromium oxide", "chrome oxide; chromic oxide; viridian", "Chromoxid; Chromoxidgrün", "oxyde de chrome", "óxido de cromo", "ossido di cromo"},
	{"Iron chromite", "chromite; chrome iron ore", "Chromit; Chromeisenstein", "chromite; fer chromé", "cromita", "cromite"},
	{"Silicon carbide", "carborundum; SiC grit", "Siliciumkarbid; Siliziumcarbid; Karborund", "carbure de silicium; carborundum", "carburo de silicio", "carburo di silicio"},
	{"Epsom salts", "epsom salt; bitter salt; magnesium sulfate", "Bittersalz; Magnesiumsulfat", "sel d'Epsom; sel anglais; sulfate de magnésium", "sal de Epsom; sal inglesa; sal de higuera", "sale di Epsom; sale inglese; sale amaro"},
	{"Gypsum", "gypsum; terra alba; selenite", "Gips; Alabaster; Selenit", "gypse; albâtre", "yeso; alabastro", "alabastro"},
	{"Plaster", "plaster; plaster of Paris", "", "plâtre", "escayola", "scagliola"},
	{"Sodium silicate", "waterglass; water glass; liquid silicate", "Wasserglas; Natronwasserglas", "silicate de soude; verre soluble", "silicato de sodio; vidrio soluble", "silicato di sodio; vetro solubile"},
	{"Potassium silicate", "potash waterglass", "Kaliwasserglas", "silicate de potasse", "silicato de potasio", "silicato di potassio"},
	{"CMC", "CMC; cellulose gum; glaze binder", "Tylose; Glasurkleber; CMC", "CMC; colle cellulosique", "CMC; goma de celulosa", "CMC; colla cellulosica"},
	{"Gum arabic", "acacia gum", "Gummi arabicum", "gomme arabique", "goma arábiga", "gomma arabica"},
	{"Gum tragacanth", "gum dragon", "Traganth", "adragante", "tragacanto", "adragante"},
	{"Xanthan gum", "xanthan", "Xanthan", "xanthane", "xantana", "xantano"},
	{"Polyacrylate", "deflocculant; dispersant; sodium polyacrylate; polyelectrolyte", "Verflüssiger; Polyacrylat; Dispergiermittel", "défloculant; polyacrylate", "defloculante; poliacrilato", "fluidificante; poliacrilato"},
	{"Perlite", "perlite", "Perlit", "perlite", "perlita", "perlite"},
	{"Pumice", "pumicite", "Bims; Bimsmehl", "pierre ponce", "piedra pómez", "pomice"},
	{"Volcanic ash", "pozzolan", "Vulkanasche; Trass", "cendre volcanique; pouzzolane", "ceniza volcánica; puzolana", "cenere vulcanica; pozzolana"},
	{"Basalt", "basalt", "Basaltmehl", "basalte", "basalto", "basalto"},
	{"Granite", "granite dust", "Granitmehl", "granit", "granito", "granito"},
	{"Stain", "ceramic stain; body stain; glaze stain; underglaze stain", "Farbkörper; Dekorfarbe", "colorant céramique; colorant de masse", "colorante cerámico; pigmento cerámico", "colorante ceramico; pigmento ceramico"},
	{"Cerium oxide", "cerium oxide", "Ceroxid", "oxyde de cérium", "óxido de cerio", "ossido di cerio"},
	{"Praseodymium oxide", "praseodymium oxide", "Praseodymoxid", "", "", ""},
	{"Erbium oxide", "erbium oxide", "Erbiumoxid", "", "de erbio", "di erbio"},
	{"Neodymium oxide", "neodymium oxide", "Neodymoxid", "", "", ""},
	{"Yttrium oxide", "yttria", "", "", "", ""},
	{"Calcium hydroxide", "slaked lime", "Kalkhydrat", "", "", ""},
}

// A name of one word in two, in either order; and plain clay, which may be several: common
// words of the trade, from memory.
func TestNamesInTwoWords(t *testing.T) {
	for name, want := range map[string]string{
		"Kali-Feldspat": "Potash feldspar", "Feldspat Kali": "Potash feldspar", "KALI FELDSPAT": "Potash feldspar", "Natron-Feldspat": "Soda feldspar",
		"Feldspat, Natron": "Soda feldspar", "Kalk-Feldspat": "Lime feldspar", "Quarz-Mehl": "Quartz", "Knochen-Asche": "Bone ash", "Holz-Asche": "Wood ash",
		"Braun-Stein": "Manganese dioxide", "Speck-Stein": "Talc", "Borax-Dekahydrat": "Borax", "Zink-Weiß": "Zinc oxide",
		"Ton": "Clay", "TON": "Clay", "Tonmehl": "Clay", "Clay": "Clay", "argile": "Clay", "arcilla": "Clay", "argilla": "Clay",
	} {
		m, ok := Lookup(name)
		assert.True(t, ok, name)
		assert.Equal(t, want, m.Name, name)
	}
	m, _ := Lookup("Ton")
	assert.NotEmpty(t, m.Means, "which of them is in the bag is asked")
}

// A word of chemistry is no typing fault of another: sodium fluoride is toxic when swallowed
// (Regulation (EC) 1272/2008, Annex VI, index 009-004-00-7), and salt is not.
func TestAnotherCompoundIsNoTypingFault(t *testing.T) {
	for _, name := range []string{"sodium fluoride", "Sodium Fluoride", "Natriumfluorid", "fluorure de sodium", "fluoruro de sodio", "fluoruro di sodio", "sodium nitride", "potassium fluoride"} {
		for _, s := range Default().Suggest(name) {
			assert.NotContains(t, strings.ToLower(s), "chlor", name)
			m, _ := Lookup(s)
			assert.NotEqual(t, "Salt", m.Name, "%s: %s", name, s)
		}
	}
}

func TestNamesOnBags(t *testing.T) {
	english, all := 0, 0
	for _, row := range onBags {
		for i, list := range []string{row.en, row.de, row.fr, row.es, row.it} {
			for name := range strings.SplitSeq(list, "; ") {
				if name == "" {
					continue
				}
				all++
				if i == 0 {
					english++
				}
				m, ok := Lookup(name)
				assert.True(t, ok, name)
				assert.Equal(t, row.entry, m.Name, name)
				assert.Empty(t, Default().Suggest(name), "what is known needs no guess: %s", name)
			}
		}
	}
	assert.Greater(t, english, 150)
	assert.Greater(t, all, 600)
}

// One name in other hands: its words in another order, hyphens, accents left out,
// capitals, grades and codes beside it.
func TestNamesAreReadHoweverTheyAreWritten(t *testing.T) {
	for entry, names := range map[string]string{
		"Soda ash":            "Soda ash, light; Ash, soda; soda-ash; SODA ASH DENSE; Sodium carbonate, anhydrous",
		"Bone ash":            "Ash, bone; bone-ash; Bone ash, natural",
		"Ball clay":           "OM-4; OM4; OM 4 ball clay; Clay, ball; ball-clay, fine",
		"Potash feldspar":     "Feldspar, potash; potash-feldspar; K-spar; G-200; G 200 feldspar; Felspar (potash)",
		"Soda feldspar":       "Feldspar, soda; F-4; NC-4 feldspar; Na-spar",
		"Quartz":              "silica 325; Silica, 200 mesh; 325 mesh silica; silica (325m); Flint, ground; Quarzmehl fein; silice broyée; Silica SiO2",
		"Red copper oxide":    "Oxide, copper, red; Copper oxide (red); copper(I) oxide; óxido de cobre rojo; rotes Kupferoxid; Ossido di rame (rosso)",
		"Copper oxide":        "Copper oxide, black; copper (II) oxide; CuO; cuo",
		"Copper carbonate":    "CuCO3·Cu(OH)2; Cu₂(OH)₂CO₃; Copper carb.; carbonate, copper",
		"Kaolin":              "EPK kaolin; Al2O3·2SiO2·2H2O; Grolleg china clay; kaolin, washed",
		"Frit":                "Frit 3134; Ferro Frit 3110; frit P-2957; Lead-free frit; Frit (lead free); fritte sans plomb",
		"Stain":               "Mason stain 6600; Stain, body; Farbkörper 27496",
		"Tin oxide":           "OXYDE D’ETAIN; Oxide, tin; SnO2; oxido de estano",
		"Zinc oxide":          "ZINKOXID; Zink-Oxid; óxido de cinc; ZnO",
		"Alumina hydrate":     "Al(OH)3; Aluminum hydroxide; Tonerde-Hydrat",
		"Lithium carbonate":   "Lithiumkarbonat; lithium carb, technical",
		"Calcium hydroxide":   "Ca(OH)2; Lime, slaked",
		"Magnesium carbonate": "Mag. carb.; Light magnesium carbonate; 4MgCO3·Mg(OH)2·4H2O",
		"Cobalt carbonate":    "Cobalt carb 46%; CoCO3; 513-79-1; Cobalt(II) carbonate",
		"Polyacrylate":        "Sodium polyacrylate; Darvan 7",
		"Vanadium stain":      "CAS 68186-95-8; Zirconium-vanadium blue; tin vanadium yellow",
		"Black iron oxide":    "Fe3O4; Eisenoxid, schwarz; Iron oxide - black",
	} {
		for name := range strings.SplitSeq(names, "; ") {
			m, ok := Lookup(name)
			assert.True(t, ok, name)
			assert.Equal(t, entry, m.Name, name)
		}
	}
}

// What one name may mean is asked and never taken for one of them. No end of a name
// makes it a member of a family.
func TestNamesThatMeanSeveral(t *testing.T) {
	for name, want := range map[string]string{
		"Cobalt": "Cobalt oxide, Cobalt(II) oxide, Cobalt carbonate", "Kupfer": "Copper oxide, Red copper oxide, Copper carbonate", "nickel": "Nickel oxide, Black nickel oxide, Nickel carbonate",
		"Feldspar": "Potash feldspar, Soda feldspar, Lime feldspar", "lithium feldspar": "Petalite, Spodumene, Lepidolite", "potash": "Pearl ash, Pearl ash hydrate", "soda": "Soda ash, Washing soda, Baking soda",
		"calcium phosphate": "Bone ash, Tricalcium phosphate, Dicalcium phosphate", "vitriol": "Copper sulfate, Iron sulfate", "Kieselsäure": "Quartz, Diatomite", "zircone": "Zirconium oxide, Zircon",
		"chrome green": "Chromium oxide, Lead compounds", "creta": "Whiting, Red clay", "ash": "Wood ash, Bone ash, Soda ash, Volcanic ash", "manganese oxide": "Manganese dioxide, Manganese carbonate, Manganese(II) oxide",
	} {
		m, ok := Lookup(name)
		require.True(t, ok, name)
		assert.Equal(t, want, strings.Join(m.Means, ", "), name)
		assert.Empty(t, m.Formula, "%s: nothing can be calculated with what may be several", name)
	}
	for name, not := range map[string]string{"soda ash": "Wood ash", "bone ash": "Wood ash", "Volcanic ash": "Wood ash", "sodium polyacrylate": "Sodium silicate", "barium feldspar": "Potash feldspar", "pond clay": "Ball clay", "moon frit": "Frit"} {
		m, _ := Lookup(name)
		assert.NotEqual(t, not, m.Name, name)
	}
	for _, m := range Default().All() {
		for _, n := range m.Means {
			other, ok := Default().exact(n)
			assert.True(t, ok && other.Name == n && len(other.Means) == 0, "%s means %s", m.Name, n)
		}
	}
}
