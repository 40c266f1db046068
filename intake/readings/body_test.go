package readings

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestBodyText(t *testing.T) {
	for name, c := range map[string]struct{ plain, want string }{
		"plain text stays whole":        {"3 1/2 x 3 1/2\nthanks", "3 1/2 x 3 1/2\nthanks"},
		"signature mark of RFC 3676":    {"It is 4 x 4.\n-- \nA. Customer\nTel 555 0134", "It is 4 x 4."},
		"phone mark, English":           {"4 x 4\n\nSent from my phone", "4 x 4"},
		"phone mark, German":            {"89 mm hoch\n\nVon meinem Telefon gesendet", "89 mm hoch"},
		"phone mark, French":            {"89 mm\n\nEnvoyé de mon téléphone", "89 mm"},
		"quoted lines":                  {"thickness 0.086\n> How thick is one leaf?\n> 3 1/2 high", "thickness 0.086"},
		"wrote line, English":           {"0.086\n\nOn Tue, 3 Nov 2026 at 10:12, The Shop <desk@shop.example> wrote:\nHow thick is it? 3 1/2 high?", "0.086"},
		"wrote line over two lines":     {"0.086\n\nOn Tuesday, 3 November 2026 at 10:12, The Shop at the Corner\n<desk@shop.example> wrote:\n> 5 high?", "0.086"},
		"wrote line, German":            {"0,9 mm\n\nAm 03.11.2026 um 10:12 schrieb Der Laden <theke@laden.example>:\n> 5 hoch?", "0,9 mm"},
		"wrote line, French":            {"2,2 mm\n\nLe mar. 3 nov. 2026 à 10:12, La Boutique <b@boutique.example> a écrit :\n> 5 ?", "2,2 mm"},
		"answer below the quotation":    {"On Tue, 3 Nov 2026, The Shop wrote:\n> How thick?\n\n0.086", "0.086"},
		"answers between quotations":    {"> How thick?\n0.086\n> How high?\n4", "0.086\n4"},
		"original message":              {"4 x 4\n\n-----Original Message-----\nFrom: The Shop\n5 x 5", "4 x 4"},
		"original message, German":      {"4 x 4\n-----Ursprüngliche Nachricht-----\n5 x 5", "4 x 4"},
		"header block":                  {"4 x 4\n\nFrom: The Shop\nSent: Tuesday\nTo: A. Customer\nSubject: hinge\n\n5 x 5", "4 x 4"},
		"header block, German":          {"4 x 4\n\nVon: Der Laden\nGesendet: Dienstag\nAn: K. Kunde\nBetreff: Band\n\n5 x 5", "4 x 4"},
		"header block, French":          {"4 x 4\n\nDe : La Boutique\nEnvoyé : mardi\nÀ : C. Client\nObjet : charnière\n\n5 x 5", "4 x 4"},
		"closing with a signature":      {"4 x 4\n\nKind regards,\nA. Customer\n12 Long Lane\nTel 555 0134", "4 x 4"},
		"closing, German":               {"4 x 4\n\nMit freundlichen Grüßen\nK. Kunde", "4 x 4"},
		"closing, French":               {"4 x 4\n\nCordialement,\nC. Client", "4 x 4"},
		"a postscript stays":            {"4 x 4\n\nRegards\nA.\n\nPS it is 0.13 thick", "4 x 4\n\nRegards\nA.\n\nPS it is 0.13 thick"},
		"a long text after a closing":   {"Best\n" + "the first hinge is 4 x 4 and the rest of this line is long, so it is no part of a signature at all\n", "Best\nthe first hinge is 4 x 4 and the rest of this line is long, so it is no part of a signature at all"},
		"from in a sentence is no head": {"from: edge 13/32\nheight 4", "from: edge 13/32\nheight 4"},
		"empty":                         {"", ""},
		"carriage returns":              {"4 x 4\r\n-- \r\nA.", "4 x 4"},
	} {
		t.Run(name, func(t *testing.T) { require.Equal(t, c.want, BodyText(c.plain)) })
	}
}

func TestReadingsOfAWholeMail(t *testing.T) {
	mail := "Hello,\r\n\r\nthe hinge is 3 1/2\" tall and 3-1/2\" wide, leaf 0.086 thick.\r\nIt has 5/8 radius corners.\r\n\r\n" +
		"Best regards\r\nA. Customer\r\n12 Long Lane, Apt 4\r\nTel 555-0134\r\n\r\nOn Tue, 3 Nov 2026 at 10:12, The Shop wrote:\r\n> Is it 4 x 4 or 4 1/2 x 4?\r\n"
	r := Parse(mail)
	readings, _ := describe(r)
	require.Equal(t, []string{"height=88.900", "open_width=88.900", "thickness=2.184", "corner_radius=15.875"}, readings)
	require.Empty(t, r.Unread)
	checkContract(t, mail, r)
}
