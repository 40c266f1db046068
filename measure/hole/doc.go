// Package hole finds and measures the screw holes of a leaf whose face and camera are known (Find),
// and says how they are arranged (Pattern).
package hole
