package intake

import (
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The test binary is its own child: with this set it serves one picture, or misbehaves.
const childMode = "INTAKE_TEST_CHILD"

func TestMain(m *testing.M) {
	if len(os.Args) == 4 && os.Args[1] == childMode {
		switch os.Args[2] {
		case "serve":
			if err := ServeAdmit(os.Args[3], os.Stdin, os.Stdout); err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
		case "hoard":
			_ = limitProcess(20, 1<<30)
			var hoard [][]byte
			for {
				b := make([]byte, 64<<20)
				for i := 0; i < len(b); i += 4096 {
					b[i] = 1
				}
				if hoard = append(hoard, b); len(hoard) > 1<<20 {
					return
				}
			}
		case "spin":
			_ = limitProcess(1, 4<<30)
			for {
				_ = time.Now()
			}
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func doorman(t *testing.T, mode string) Doorman {
	self, err := os.Executable()
	require.NoError(t, err)
	return NewDoorman(self, childMode, mode)
}

func TestAChildAdmitsTheSame(t *testing.T) {
	d := doorman(t, "serve")
	for _, file := range []string{"formats/small.jpg", "formats/small.webp", "formats/small.heic", "photos/016.jpg"} {
		want, err := Admit(file, read(t, file))
		require.NoError(t, err)
		got, err := d.Admit(file, read(t, file))
		require.NoError(t, err, file)
		require.Equal(t, want, got)
	}
	for _, file := range []string{"bad/cut_short.jpg", "bad/sixty_megapixels.png", "bad/empty.jpg", "bad/not_a_picture.jpg"} {
		_, want := Admit(file, read(t, file))
		_, got := d.Admit(file, read(t, file))
		require.Equal(t, want, got)
	}
}

func TestAChildThatTakesTooMuchIsEnded(t *testing.T) {
	for _, mode := range []string{"hoard", "spin"} {
		_, err := doorman(t, mode).Admit("x.jpg", []byte("anything"))
		var invalid *InvalidError
		require.ErrorAs(t, err, &invalid, mode)
		require.Equal(t, CodeTooComplex, invalid.Code)
	}
}

func TestAChildThatCannotStartIsAFault(t *testing.T) {
	_, err := NewDoorman("/no/such/program").Admit("x.jpg", []byte("anything"))
	require.Error(t, err)
	var invalid *InvalidError
	require.NotErrorAs(t, err, &invalid)
}
