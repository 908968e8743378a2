package protocol

import (
	"testing"
)

func TestLFWeightStatusETX(t *testing.T) {
	runRows(t, lfWeightStatusETX, []row{
		{"\n00.000LB\r\nS20\r\x03", "0.000", "lb", "true", "-", "ok", "garlick/brewcop test/query.c, from a real 6702"},
		{"\n02.340LB\r\nS00\r\x03", "2.340", "lb", "true", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49"},
		{"\n02.315LB\r\nS10\r\x03", "2.315", "lb", "false", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49"},
		{"\nS02\r\x03", "", "", "", "-", "overload", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49"},
		{"\nS01\r\x03", "", "", "", "-", "underload", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49"},
		{"\nS10\r\x03", "", "", "", "-", "error", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; moving, no weight"},
		{"\nS00\r\x03", "", "", "", "-", "invalid", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; the answer to S"},
		{"\n?\r\x03", "", "", "", "-", "error", "NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49"},
		{"\n 2LB 03.5OZ\r\nS00\r\x03", "35.5", "oz", "true", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; 2 lb 3.5 oz"},
		{"\n12LB 07.50OZ\r\nS10\r\x03", "199.50", "oz", "false", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; 12 lb 7.50 oz"},
		{"\n-2LB 03.5OZ\r\nS00\r\x03", "-35.5", "oz", "true", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; the sign is that of the sum"},
		{"\n001.25kg\r\n00\r\x03", "1.25", "kg", "true", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; an old model"},
		{"\n-0.125LB\r\nS00\r\x03", "-0.125", "lb", "true", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49"},
		{"\n   125G\r\nS00\r\x03", "125", "g", "true", "-", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; blanks for zeros"},
		{"\n^^^^^^LB\r\nS02\r\x03", "", "", "", "-", "overload", "built from the layout; Avery Weigh-Tronix 7821 p. 25"},
		{"\n______LB\r\nS01\r\x03", "", "", "", "-", "underload", "built from the layout; Avery Weigh-Tronix 7821 p. 25"},
		{"\n------LB\r\nS00\r\x03", "", "", "", "-", "error", "built from the layout; Avery Weigh-Tronix 7821 p. 25"},
		{"\n02.340LB\r\nS02\r\x03", "", "", "", "-", "overload", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; digits beside the flag are filler"},
		{"\n02.340LB\r\nS40\r\x03", "", "", "", "-", "error", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; RAM error"},
		{"\n02.340LB\r\nS08\r\x03", "", "", "", "-", "error", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; calibration error"},
		{"\n02.340LB\r\nS0p4\r\x03", "2.340", "lb", "true", "net", "ok", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; third character"},
		{"\n02.340LB\r\nS0p8\r\x03", "", "", "", "gross", "error", "built from the layout; NCI 6702 p. 14, Ohaus Aviator 7000 pp. 47..49; initial zero error"},
	})
	runNever(t, lfWeightStatusETX,
		"02.340LB\r\nS00\r\x03",
		"\n02.340LB\r\nS00\r",
		"\n02.340LB\r\nS0\r\x03",
		"\n02.340LB\r\nS\r\x03",
		"\n02.340LB\r\n\r\x03",
		"\n02.340LB\r\x03",
		"\n02.340\r\nS00\r\x03",
		"\n2.340LB\r\nS00\r\x03",
		"\n002.340LB\r\nS00\r\x03",
		"\n02.3 0LB\r\nS00\r\x03",
		"\n02.340XX\r\nS00\r\x03",
		"\n02,340LB\r\nS00\r\x03",
		"\n02.340LB\r\nS03\r\x03",
		"\n02.340LB\r\nS0p\r\x03",
		"\n02.340LB\r\nS000\r\x03",
		"\n02.340LB\r\nSA0\r\x03",
		"\n 2LB 16.0OZ\r\nS00\r\x03",
		"\n 2LB OZ\r\nS00\r\x03",
		"\n2.5LB 03.5OZ\r\nS00\r\x03",
		"\n 2LB 03.5\r\nS00\r\x03",
		"\n+2.340LB\r\nS00\r\x03",
		"\n^^^^^^LB\r\nS01\r\x03",
		"\n02.3\n40LB\r\nS00\r\x03",
	)
	runDamage(t, lfWeightStatusETX, "\n02.340LB\r\nS00\r\x03", false)
}
