package leafgauge

import (
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Who may import whom. The core is plain arithmetic; whatever can fail for outside reasons is
// a layer round it, and the layers meet in cmd alone. A package of the project that is not
// listed may be imported by cmd only, as may those it imports.
var (
	project = map[string]string{ // each may import these of the project, and no others
		"measure":           "",
		"measure/geom":      "measure",
		"measure/picture":   "measure measure/geom",
		"measure/card":      "measure measure/finder measure/geom measure/picture",
		"measure/finder":    "measure measure/picture",
		"measure/hole":      "measure measure/geom measure/picture",
		"measure/locate":    "measure measure/geom measure/picture",
		"measure/photo":     "measure measure/geom measure/picture measure/card measure/finder measure/hole measure/locate",
		"measure/reconcile": "measure",
		"measure/flat":      "measure",
		"measure/draw":      "measure measure/geom measure/flat",
		"catalog":           "measure measure/flat",
		"intake":            "intake/baseline intake/upright",
		"intake/readings":   "measure",
		"intake/baseline":   "intake/upright",
		"intake/upright":    "",
		"quote":             "intake intake/readings measure measure/reconcile catalog",
		"store":             "intake measure catalog quote migrations",
		"worker":            "intake intake/readings measure measure/photo measure/reconcile catalog quote",
		"api":               "intake intake/readings measure measure/draw catalog quote paper printcard",
		"paper":             "intake measure measure/flat catalog quote",
		"printcard":         "measure",
		"migrations":        "",
		"internal/truth":    "measure",
		"internal/scene":    "measure measure/geom measure/picture",
	}
	never = map[string]string{ // what starts so stays out, of a room and of those in it
		"measure": "os time context net log math/rand database github.com/jackc github.com/hibiken github.com/redis",
		"catalog": "os net log database github.com/jackc github.com/hibiken github.com/redis",
		"intake":  "net/http database github.com/jackc github.com/hibiken github.com/redis",
		"quote":   "net/http database github.com/jackc github.com/hibiken github.com/redis",
		"store":   "net/http github.com/hibiken github.com/redis",
		"worker":  "net/http database github.com/jackc",
		"api":     "database github.com/jackc github.com/hibiken github.com/redis",

		"intake/readings": "os time context net log math/rand database github.com/jackc github.com/hibiken github.com/redis",
	}
)

func TestImports(t *testing.T) {
	for room, mayBe := range project {
		files, err := filepath.Glob(filepath.Join(room, "*.go"))
		require.NoError(t, err)
		require.NotEmpty(t, files, room)
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
			require.NoError(t, err)
			for _, spec := range f.Imports {
				path, err := strconv.Unquote(spec.Path.Value)
				require.NoError(t, err)
				if own, ok := strings.CutPrefix(path, "leafgauge/"); ok {
					require.Contains(t, strings.Fields(mayBe), own, file)
				}
				for _, no := range strings.Fields(never[strings.Split(room, "/")[0]]) {
					require.False(t, path == no || strings.HasPrefix(path, no+"/"), "%s imports %s", file, path)
				}
				if !strings.HasPrefix(room, "internal/") {
					require.NotContains(t, path, "stretchr/testify", "%s: tests only", file)
				}
			}
		}
	}
}

// Every package is in the list, or is the program or a test's own.
func TestImportsCoverEveryPackage(t *testing.T) {
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		if err != nil || !d.IsDir() || path == "." {
			return err
		}
		if strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "test") || d.Name() == "node_modules" || path == "cmd" {
			return filepath.SkipDir
		}
		files, err := filepath.Glob(filepath.Join(path, "*.go"))
		if err != nil || len(files) == 0 {
			return err
		}
		_, listed := project[filepath.ToSlash(path)]
		require.True(t, listed, "say above what %s may import", path)
		return nil
	})
	require.NoError(t, err)
}
