// Draws small pictures of hinge, card and clutter on a table, with the truth beside them.
//
// A ray caster for flat things: rounded slabs and lying cylinders on a table with an edge, a room behind it, one light
// with soft shadows, light from all round, a thin lens. Materials are computed, nothing is loaded. It compiles for an
// accelerator (NVRTC, through CuPy) and, for looking at, as plain C++. Lengths are millimetres, z points up, the table is z = 0.
// The numbers of a scene are laid out by scene.py.

#ifdef __CUDACC__
#define FN __device__ static inline
#else
#include <cmath>
#define FN static inline
#endif

#define HEAD 96
#define OBJ 80
#define MAXOBJ 40

struct V { float x, y, z; };
FN V v3(float x, float y, float z) { V a = {x, y, z}; return a; }
FN V operator+(V a, V b) { return v3(a.x + b.x, a.y + b.y, a.z + b.z); }
FN V operator-(V a, V b) { return v3(a.x - b.x, a.y - b.y, a.z - b.z); }
FN V operator*(V a, float s) { return v3(a.x * s, a.y * s, a.z * s); }
FN V operator*(V a, V b) { return v3(a.x * b.x, a.y * b.y, a.z * b.z); }
FN float dot(V a, V b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
FN V unit(V a) { return a * (1.0f / sqrtf(dot(a, a) + 1e-20f)); }
FN V cross(V a, V b) { return v3(a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x); }
FN V mix(V a, V b, float t) { return a * (1 - t) + b * t; }
FN float clampf(float x, float a, float b) { return x < a ? a : x > b ? b : x; }
FN float smooth(float a, float b, float x) { float t = clampf((x - a) / (b - a), 0, 1); return t * t * (3 - 2 * t); }
FN float frac(float x) { return x - floorf(x); }
FN V load3(const float* p) { return v3(p[0], p[1], p[2]); }

// Random numbers and value noise from integer hashes.
FN unsigned hash1(unsigned x) { x ^= x >> 16; x *= 0x7feb352dU; x ^= x >> 15; x *= 0x846ca68bU; x ^= x >> 16; return x; }
FN float u01(unsigned h) { return (h >> 8) * (1.0f / 16777216.0f); }
FN float rnd(unsigned* s) { *s = hash1(*s + 0x9e3779b9U); return u01(*s); }
FN float cell(int i, int j, unsigned seed) { return u01(hash1((unsigned)i * 0x8da6b343U ^ hash1((unsigned)j * 0xd8163841U ^ seed))); }
FN float noise2(float x, float y, unsigned seed) {
    float fx = floorf(x), fy = floorf(y);
    int i = (int)fx, j = (int)fy;
    float u = x - fx, v = y - fy;
    u = u * u * (3 - 2 * u); v = v * v * (3 - 2 * v);
    float a = cell(i, j, seed), b = cell(i + 1, j, seed), c = cell(i, j + 1, seed), d = cell(i + 1, j + 1, seed);
    return (a * (1 - u) + b * u) * (1 - v) + (c * (1 - u) + d * u) * v;
}
FN float fbm(float x, float y, unsigned seed, int octaves) {
    float s = 0, a = 0.5f;
    for (int k = 0; k < octaves; k++) { s += a * noise2(x, y, seed + 17 * k); x *= 2.03f; y *= 2.03f; a *= 0.5f; }
    return s;
}
FN float line(float d, float half) { return 1 - smooth(half * 0.7f, half * 1.3f, fabsf(d)); }

// A texture: 0 kind, 1 scale, 2 seed, 3-5 6-8 9-11 colours, 12 amount, 13 angle (cos), 14 (sin). u, v in mm.
FN V texture(const float* t, float u0, float v0, float hw, float hh) {
    int kind = (int)t[0];
    float k = t[1], amt = t[12];
    unsigned sd = (unsigned)t[2];
    V a = load3(t + 3), b = load3(t + 6), c = load3(t + 9);
    float u = u0 * t[13] - v0 * t[14], v = u0 * t[14] + v0 * t[13];
    V out = a;
    switch (kind) {
    case 1: { // wood, grain along u, planks across v
        float plank = 40 + 120 * frac(sd * 0.0137f);
        float row = floorf(v / plank);
        unsigned s2 = hash1(sd + (unsigned)(int)row * 7919u);
        float seam = fabsf(v - (row + 0.5f) * plank) - plank / 2;
        float g = fbm(u * 0.012f / k + 31 * u01(s2), v * 0.22f / k, s2, 4) * 5;
        float rings = 0.5f + 0.5f * sinf(6.283f * (g * 1.5f + v * 0.02f / k));
        float fine = fbm(u * 0.05f / k, v * 1.9f / k, s2 + 5, 3);
        float x = clampf(0.55f * rings + 0.9f * (fine - 0.45f), 0, 1);
        out = mix(a, b, amt * x) * (0.9f + 0.2f * u01(s2 + 3));
        if (c.x > 0.5f) out = mix(out, out * 0.25f, line(seam, 0.4f + c.y));
        break; }
    case 2: { // granite, terrazzo, gravel
        float n = fbm(u / k, v / k, sd, 3), m = noise2(u / (k * 0.45f), v / (k * 0.45f), sd + 9);
        out = n < 0.40f ? a : n < 0.40f + 0.18f * amt ? b : c;
        out = out * (0.75f + 0.5f * m);
        break; }
    case 3: { // cloth
        float w = sinf(6.283f * u / k) * sinf(6.283f * v / k);
        out = mix(a, b, clampf(0.5f + 0.5f * w, 0, 1) * amt) * (0.85f + 0.3f * fbm(u * 0.05f, v * 0.05f, sd, 3));
        float f = floorf(u / (k * 9)), g = floorf(v / (k * 9));
        if (c.x > 0.5f && (((int)f ^ (int)g) & 1)) out = out * c.y; // checked
        break; }
    case 4: { // tiles
        float p = 30 * k;
        float du = fabsf(frac(u / p) - 0.5f) * p, dv = fabsf(frac(v / p) - 0.5f) * p;
        float id = cell((int)floorf(u / p + 0.5f), (int)floorf(v / p + 0.5f), sd);
        out = mix(a, b, amt * (0.6f * id + 0.4f * fbm(u * 0.03f, v * 0.03f, sd, 4)));
        float g = fminf(du, dv);
        out = mix(c, out, smooth(0.8f, 2.2f, g));
        break; }
    case 5: { // stripes
        float p = 6 * k;
        float x = frac(v / p);
        out = x < 0.25f + 0.5f * amt ? a : b;
        if (frac(v / p / 3) < 0.33f) out = mix(out, c, 0.5f);
        break; }
    case 6: { // print: lines of words, headings, pictures
        float colw = 55 * k, cu = frac(u / colw) * colw, lh = 3.6f * k;
        int ci = (int)floorf(u / colw), block = (int)floorf(v / (lh * 14));
        float what = cell(ci, block, sd);
        out = a;
        if (what < 0.2f) { // a picture
            float d = fbm(u * 0.07f, v * 0.07f, sd + 3, 4);
            if (cu > 3) out = mix(b, c, clampf(2 * d - 0.5f, 0, 1));
        } else {
            float h = what > 0.85f ? lh * 3 : lh;
            int row = (int)floorf(v / h);
            float in = frac(v / h), word = frac((u + 40 * cell(row, ci, sd + 1)) / (h * 2.1f));
            float stroke = noise2(u / (h * 0.16f), v / (h * 0.3f), sd + 2);
            if (cu > 3 && in > 0.3f && in < 0.78f && word < 0.85f && stroke > 0.42f) out = mix(a, b, amt);
        }
        out = out * (0.93f + 0.1f * fbm(u * 0.02f, v * 0.02f, sd, 3));
        break; }
    case 7: { // cutting mat, squared paper
        float p = 10 * k, q = p / 5;
        float gu = fminf(fabsf(frac(u / p + 0.5f) - 0.5f), fabsf(frac(v / p + 0.5f) - 0.5f)) * p;
        float fu = fminf(fabsf(frac(u / q + 0.5f) - 0.5f), fabsf(frac(v / q + 0.5f) - 0.5f)) * q;
        out = mix(a, b, fmaxf(amt * line(gu, 0.35f), 0.4f * amt * line(fu, 0.2f)));
        break; }
    case 8: // stains, blotches
        out = mix(a, b, clampf(amt * (2.2f * fbm(u * 0.02f / k, v * 0.02f / k, sd, 5) - 0.5f), 0, 1));
        break;
    case 9: { // a card's print: gradient, shapes, rows of words, a border, a stripe
        out = mix(a, b, clampf(0.5f + (u0 * cosf(sd * 0.7f) + v0 * sinf(sd * 0.7f)) / (2 * hw), 0, 1) * amt);
        float all = u01(hash1(sd + 20)); // a pattern over all of it
        if (all < 0.35f) {
            float turn = 6.283f * u01(hash1(sd + 21)), p = 2.5f + 14 * u01(hash1(sd + 22)), share = 0.25f + 0.5f * u01(hash1(sd + 23));
            float x = u0 * cosf(turn) + v0 * sinf(turn), y = -u0 * sinf(turn) + v0 * cosf(turn), f = frac(x / p);
            V other = u01(hash1(sd + 24)) < 0.5f ? b : v3(u01(hash1(sd + 25)), u01(hash1(sd + 26)), u01(hash1(sd + 27)));
            if (all < 0.2f) out = f < share ? other : out;                                   // stripes
            else if (all < 0.25f) out = (f < 0.5f) != (frac(y / p) < 0.5f) ? other : out;    // squares
            else if (all < 0.3f) out = mix(out, other, clampf(2.4f * fbm(u0 * 0.05f, v0 * 0.05f, sd, 4) - 0.7f, 0, 1)); // clouds
            else out = mix(out, other, 0.5f + 0.5f * sinf(6.283f * (x / p + 0.3f * sinf(y / p)))); // waves
        }
        for (int s = 0; s < 4; s++) {
            unsigned h = hash1(sd + 101 * s);
            if (u01(h) < 0.35f) continue;
            float px = (2 * u01(h + 1) - 1) * hw, py = (2 * u01(h + 2) - 1) * hh, r = (0.15f + 0.6f * u01(h + 3)) * hh;
            V col = v3(u01(h + 4), u01(h + 5), u01(h + 6));
            float x = u0 - px, y = v0 - py, kd = u01(h + 7);
            bool in = kd < 0.3f ? x * x + y * y < r * r : kd < 0.55f ? fabsf(x) < r && fabsf(y) < r * 0.5f :
                      kd < 0.75f ? fabsf(y + x * (u01(h + 8) - 0.5f)) < r * 0.35f : fabsf(y - 0.3f * r * sinf(x / r * 2)) < r * 0.25f;
            if (in) out = col;
        }
        if (u01(hash1(sd + 7)) < 0.6f) { // words
            int row = (int)floorf(v0 / 4.2f);
            float in = frac(v0 / 4.2f);
            if (cell(row, 1, sd) < 0.5f && in > 0.35f && in < 0.7f && u0 < hw * (2 * cell(row, 3, sd) - 1) && u0 > -hw * 0.85f &&
                noise2(u0 / 0.6f, v0 / 0.8f, sd + 2) > 0.4f) out = mix(out, c, 0.85f);
        }
        if (u01(hash1(sd + 12)) < 0.2f) { // bars, upright or lying
            float bx = hw * (u01(hash1(sd + 13)) - 0.5f), by = hh * (u01(hash1(sd + 14)) - 0.5f), bw = hw * (0.25f + 0.4f * u01(hash1(sd + 15))), bh = hh * (0.2f + 0.3f * u01(hash1(sd + 16)));
            if (fabsf(u0 - bx) < bw && fabsf(v0 - by) < bh) out = noise2(u0 / 0.7f, 0.5f, sd + 17) > 0.5f && fabsf(v0 - by) < bh * 0.85f ? v3(0.03f, 0.03f, 0.03f) : v3(0.9f, 0.9f, 0.88f);
        }
        if (u01(hash1(sd + 18)) < 0.4f && v0 > hh * 0.3f && v0 < hh * 0.55f && u0 > -hw * 0.8f && u0 < hw * 0.4f) { // one row of large letters
            float word = frac(u0 / 7.0f);
            if (word < 0.85f && noise2(u0 / 1.1f, v0 / 1.6f, sd + 19) > 0.42f) out = c;
        }
        float st = u01(hash1(sd + 8));
        if (st < 0.15f && v0 > hh * 0.35f && v0 < hh * 0.78f) out = v3(0.03f, 0.03f, 0.035f);          // magnetic stripe
        if (st > 0.7f && fabsf(u0 + hw * 0.62f) < 6 && fabsf(v0 - 2) < 5) out = v3(0.75f, 0.6f, 0.3f); // chip
        float border = u01(hash1(sd + 9)) < 0.25f ? 1.5f + 3 * u01(hash1(sd + 10)) : 0;
        if (border > 0 && fmaxf(fabsf(u0) - hw, fabsf(v0) - hh) > -border) out = v3(0.92f, 0.92f, 0.9f) * (0.75f + 0.25f * u01(hash1(sd + 11)));
        break; }
    case 10: { // playing card
        out = v3(0.9f, 0.9f, 0.87f);
        float e = fmaxf(fabsf(u0) - hw, fabsf(v0) - hh);
        V ink = u01(hash1(sd)) < 0.5f ? v3(0.6f, 0.05f, 0.05f) : v3(0.04f, 0.04f, 0.05f);
        float face = u01(hash1(sd + 1));
        if (face > 0.7f) { // a figure in a frame
            if (e < -9) {
                int i = (int)floorf(u0 / 5), j = (int)floorf(v0 / 5);
                float id = cell(i, j, sd);
                if (noise2(u0 / 6, v0 / 6, sd) > 0.4f) out = id < 0.3f ? ink : id < 0.5f ? v3(0.8f, 0.65f, 0.1f) : id < 0.65f ? v3(0.1f, 0.15f, 0.5f) : id < 0.8f ? v3(0.6f, 0.05f, 0.05f) : out;
            }
            if (fabsf(e + 9) < 0.3f) out = ink;
        } else if (face < 0.4f) {
            float p = 9 + 8 * u01(hash1(sd + 2));
            float x = (frac(u0 / p + 0.5f) - 0.5f) * p, y = (frac(v0 / p + 0.5f) - 0.5f) * p;
            if (x * x + y * y < 9 && e < -8) out = ink;
        } else if (e < -5) {
            out = mix(ink, out, 0.5f + 0.5f * sinf(u0 * 1.9f) * sinf(v0 * 1.9f));
        }
        if (u01(hash1(sd + 3)) < 0.4f && fabsf(e + 4) < 0.4f) out = ink;
        break; }
    case 11: { // circuit board, machined plate
        if (t[1] < 0) { // a code's squares
            out = cell((int)floorf(u / 1.2f), (int)floorf(v / 1.2f), sd) < 0.5f ? b : a;
            break;
        }
        float p = 5 + 6 * k;
        int i = (int)floorf(u / p), j = (int)floorf(v / p);
        float id = cell(i, j, sd), x = fabsf(frac(u / p) - 0.5f), y = fabsf(frac(v / p) - 0.5f);
        out = a * (0.9f + 0.2f * noise2(u, v, sd));
        if (id < 0.35f && x < 0.35f && y < 0.25f) out = id < 0.12f ? c : b;
        if (id > 0.9f && x * x + y * y < 0.05f) out = v3(0.7f, 0.68f, 0.6f);
        if (fmaxf(x, y) > 0.47f && id > 0.5f) out = mix(out, b, 0.4f);
        break; }
    case 12: { // ruler
        out = a;
        float m = frac(u), big = frac(u / 10 + 0.5f) * 10 - 5;
        float len = fabsf(big) < 0.4f ? 0.9f : 0.45f;
        if (fabsf(m - 0.5f) < 0.14f && fabsf(v0) > hh * (1 - 0.5f * len)) out = b;
        break; }
    case 13: // brushed metal
        out = a * (0.86f + 0.28f * fbm(u * 0.03f / k, v * 2.5f / k, sd, 3));
        break;
    case 14: // worn metal
        out = mix(a * (0.9f + 0.2f * fbm(u * 0.5f, v * 0.5f, sd, 3)), b, smooth(0.62f - 0.3f * amt, 0.72f - 0.3f * amt, fbm(u * 0.09f / k, v * 0.09f / k, sd + 5, 5)));
        break;
    default: // plain
        out = a * (1 + amt * (fbm(u * 0.06f / k, v * 0.06f / k, sd, 5) - 0.5f));
    }
    return out;
}

// The room as light: from below dark to above bright, and a few windows.
FN V room(const float* h, V d) {
    unsigned sd = (unsigned)h[28];
    float up = 0.5f + 0.5f * d.z;
    V c = load3(h + 25) * (0.35f + 0.9f * up + 0.5f * (fbm(d.x * 2 + 9, d.y * 2 + 5 + d.z, sd, 3) - 0.5f));
    for (int k = 0; k < 3; k++) {
        unsigned s = hash1(sd + 31 * k);
        float az = 6.283f * u01(s), el = 0.15f + 1.2f * u01(s + 1);
        V w = v3(cosf(az) * cosf(el), sinf(az) * cosf(el), sinf(el));
        V r = unit(cross(w, v3(0, 0, 1))), t = cross(r, w);
        float f = dot(d, w);
        if (f <= 0.05f) continue;
        float x = fabsf(dot(d, r) / f), y = fabsf(dot(d, t) / f), sx = 0.1f + 0.4f * u01(s + 2), sy = 0.1f + 0.4f * u01(s + 3);
        float m = (1 - smooth(sx, sx * 1.2f, x)) * (1 - smooth(sy, sy * 1.2f, y));
        c = mix(c, load3(h + 22) * (1.2f + 2.0f * u01(s + 4)), m * 0.9f);
    }
    float f = dot(d, load3(h + 18));
    return c + load3(h + 22) * (2.5f * smooth(0.93f, 0.99f, f));
}

// Signed distance to a rounded rectangle about the origin.
FN float rrect(float x, float y, float hw, float hh, float r) {
    float a = fabsf(x) - hw + r, b = fabsf(y) - hh + r;
    float ax = fmaxf(a, 0.0f), bx = fmaxf(b, 0.0f);
    return sqrtf(ax * ax + bx * bx) + fminf(fmaxf(a, b), 0.0f) - r;
}
// The corner radius where x, y lies: of the left or the right corners.
FN float radiusAt(const float* o, float x) { return x < 0 ? o[7] : o[62]; }

struct Hit { float t; int obj; V n; float u, v, e; }; // e: distance inside the outline

// object: 0 kind (1 slab, 2 lying cylinder along its own v), 1 cx, 2 cy, 3 cos, 4 sin, 5 hw, 6 hh, 7 radius (left; 62 right), 8 z0, 9 z1, 10 slope along u,
// 11-25 texture, 26 metal, 27 rough, 28 mask, 29 holes, 30-59 holes (x, y, countersink r, bore r, filled), 60 edge wear, 61 knuckles
FN void strike(const float* o, int id, V p, V d, Hit* h) {
    float rx = p.x - o[1], ry = p.y - o[2];
    float px = rx * o[3] + ry * o[4], py = -rx * o[4] + ry * o[3];
    float dx = d.x * o[3] + d.y * o[4], dy = -d.x * o[4] + d.y * o[3];
    if (o[0] == 1) {
        float sl = o[10], den = d.z - sl * dx;
        float t1 = (o[9] + sl * px - p.z) / (fabsf(den) < 1e-9f ? -1e-9f : den);
        float t0 = d.z < 0 ? (o[8] - p.z) / d.z : 1e9f;
        if (d.z < 0) {
            if (t1 < 0) t1 = 0;
            if (t1 > h->t) return;
            float x = px + dx * t1, y = py + dy * t1, s = rrect(x, y, o[5], o[6], radiusAt(o, x));
            if (s < 0 && t1 > 1e-4f) {
                float k = 1 / sqrtf(1 + sl * sl);
                h->t = t1; h->obj = id; h->n = v3(-sl * k * o[3], -sl * k * o[4], k); h->u = x; h->v = y; h->e = -s;
                float wear = o[60];
                if (-s < wear) { // the worn edge looks outward
                    float e = 0.05f, gx = rrect(x + e, y, o[5], o[6], radiusAt(o, x)) - s, gy = rrect(x, y + e, o[5], o[6], radiusAt(o, x)) - s, q = (1 + s / wear) * 0.9f / e;
                    h->n = unit(h->n + v3(gx * o[3] - gy * o[4], gx * o[4] + gy * o[3], 0) * q);
                }
                return;
            }
        } else t1 = 1e-3f, t0 = (o[9] - p.z) / (d.z + 1e-9f);
        float run = sqrtf(dx * dx + dy * dy);
        if (run < 1e-6f) return;
        float t = fmaxf(t1, 1e-3f);
        for (int k = 0; k < 14 && t < t0 && t < h->t; k++) {
            float x = px + dx * t, y = py + dy * t, s = rrect(x, y, o[5], o[6], radiusAt(o, x));
            if (s < 0.01f) {
                float z = p.z + d.z * t;
                if (z > o[9] + sl * x || z < o[8]) return;
                float e = 0.02f, gx = rrect(x + e, y, o[5], o[6], radiusAt(o, x)) - s, gy = rrect(x, y + e, o[5], o[6], radiusAt(o, x)) - s;
                h->t = t; h->obj = id; h->n = unit(v3(gx * o[3] - gy * o[4], gx * o[4] + gy * o[3], 0)); h->u = x; h->v = y; h->e = -1;
                return;
            }
            t += fmaxf(s, 0.01f) / run;
        }
        return;
    }
    float r = o[5], zc = o[8] + r, qz = p.z - zc; // cylinder
    float A = dx * dx + d.z * d.z, B = px * dx + qz * d.z, C = px * px + qz * qz - r * r, D = B * B - A * C;
    if (D > 0) {
        float t = (-B - sqrtf(D)) / A, y = py + dy * t;
        if (t > 1e-3f && t < h->t && fabsf(y) < o[6]) {
            float x = px + dx * t, z = qz + d.z * t;
            h->t = t; h->obj = id; h->n = unit(v3(x * o[3], x * o[4], z)); h->u = r * atan2f(x, z); h->v = y; h->e = 1;
            return;
        }
    }
    if (fabsf(dy) > 1e-6f) {
        float t = ((dy > 0 ? -o[6] : o[6]) - py) / dy, x = px + dx * t, z = qz + d.z * t;
        if (t > 1e-3f && t < h->t && x * x + z * z < r * r) {
            float s = dy > 0 ? -1.0f : 1.0f;
            h->t = t; h->obj = id; h->n = v3(-o[4] * s, o[3] * s, 0); h->u = x; h->v = z; h->e = -1;
        }
    }
}

FN Hit cast(const float* sc, V p, V d) {
    Hit h; h.t = 1e9f; h.obj = -3; h.n = v3(0, 0, 1); h.u = h.v = h.e = 0;
    if (d.z < -1e-6f) {
        float t = -p.z / d.z, x = p.x + d.x * t, y = p.y + d.y * t;
        bool on = sc[33] == 0 || sc[30] * x + sc[31] * y < sc[32];
        if (t > 1e-3f && on) { h.t = t; h.obj = -1; h.u = x; h.v = y; }
        if (!on) {
            t = (sc[34] - p.z) / d.z;
            if (t > 1e-3f) { h.t = t; h.obj = -2; h.u = p.x + d.x * t; h.v = p.y + d.y * t; }
        }
    }
    int n = (int)sc[29];
    for (int k = 0; k < n; k++) strike(sc + HEAD + k * OBJ, k, p, d, &h);
    return h;
}

FN bool hidden(const float* sc, V p, V d, float far) {
    Hit h; h.t = far; h.obj = -3;
    int n = (int)sc[29];
    for (int k = 0; k < n; k++) { strike(sc + HEAD + k * OBJ, k, p, d, &h); if (h.obj >= 0) return true; }
    return false;
}

FN V shade(const float* sc, V p, V d, Hit h, unsigned* s) {
    V alb, n = h.n;
    float metal = 0, rough = 0.6f, dark = 1;
    if (h.obj == -3) return room(sc, d) * sc[35];
    if (h.obj == -1) { alb = texture(sc + 36, h.u, h.v, 300, 300); rough = sc[66]; metal = sc[67]; }
    else if (h.obj == -2) { alb = texture(sc + 51, h.u * 0.5f, h.v * 0.5f, 900, 900) * (0.3f + 0.7f * sc[68]); }
    else {
        const float* o = sc + HEAD + h.obj * OBJ;
        alb = texture(o + 11, h.u, h.v, o[5], o[6]);
        metal = o[26]; rough = o[27];
        if (o[0] == 2 && o[61] > 0) { // knuckles: dark joints
            float k = o[61], step = 2 * o[6] / k, j = fabsf(frac((h.v + o[6]) / step + 0.5f) - 0.5f) * step;
            dark *= 0.25f + 0.75f * smooth(0.15f, 0.55f, j);
        }
        if (o[0] == 1 && h.e < 0) { alb = alb * 0.8f; }
        int holes = (int)o[29];
        for (int k = 0; k < holes && h.e > 0; k++) {
            const float* q = o + 30 + 5 * k;
            float x = h.u - q[0], y = h.v - q[1], r = sqrtf(x * x + y * y);
            if (r > q[2]) continue;
            V out = v3((x * o[3] - y * o[4]) / (r + 1e-4f), (x * o[4] + y * o[3]) / (r + 1e-4f), 0);
            if (q[4] > 1.5f) { alb = alb * 0.9f; n = unit(n - out * 0.25f); }              // filled with paint
            else if (q[4] > 0.5f) {                                                            // a screw's head
                float a = 0.6f * cell(k, 5, (unsigned)o[13]), cx = fabsf(x * cosf(a) + y * sinf(a)), cy = fabsf(-x * sinf(a) + y * cosf(a)), w = q[2] * 0.13f, l = q[2] * 0.55f;
                n = unit(n + out * (0.35f * r / q[2]));
                bool slot = o[61] < 0 ? cx < w : (cx < w && cy < l) || (cy < w && cx < l);
                if (slot) dark = 0.18f;
                if (r > q[2] * 0.93f) dark = 0.4f;
            } else if (r < q[3]) {                                                             // through to the table
                alb = texture(sc + 36, p.x, p.y, 300, 300); metal = 0; rough = 0.8f; dark = 0.15f + 0.5f * (1 - smooth(0.0f, 1.0f, 2 * o[9] / (q[3] + 0.1f)));
            } else n = unit(v3(0, 0, 1) - out * 1.15f);
        }
    }
    // light: the lamp, with its size, and the room
    V L = load3(sc + 18), a = unit(cross(L, v3(0.3f, 0.2f, 0.9f))), b = cross(L, a);
    float ang = 6.2832f * rnd(s), rad = sqrtf(rnd(s)) * sc[21];
    L = unit(L + a * (rad * cosf(ang)) + b * (rad * sinf(ang)));
    V q = p + n * 0.02f;
    float key = fmaxf(dot(n, L), 0.0f);
    if (key > 0 && hidden(sc, q, L, 1e8f)) key = 0;
    float blob; { // the phone's and the hand's shadow
        float x = p.x - sc[69], y = p.y - sc[70], u = (x * sc[73] + y * sc[74]) / sc[71], v = (-x * sc[74] + y * sc[73]) / sc[72];
        float f = fmaxf(fabsf(u), fabsf(v));
        blob = 1 - sc[75] * (1 - smooth(1 - sc[76], 1 + sc[76], f));
    }
    key *= blob;
    if (sc[77] > 0) { // a window's panes
        float u = (p.x * sc[79] + p.y * sc[80]) / sc[77], v = (-p.x * sc[80] + p.y * sc[79]) / sc[77], g = sc[78] * 0.3f + 0.02f;
        key *= smooth(sc[78] - g, sc[78] + g, 2 * fabsf(frac(u) - 0.5f)) * smooth(sc[78] - g, sc[78] + g, 2 * fabsf(frac(v) - 0.5f));
    }
    float z = rnd(s), t = 6.2832f * rnd(s), w = sqrtf(1 - z);
    V ta = unit(cross(n, v3(0.31f, 0.7f, 0.2f))), tb = cross(n, ta), D = ta * (w * cosf(t)) + tb * (w * sinf(t)) + n * sqrtf(z);
    V amb = hidden(sc, q, D, 120.0f) ? alb * 0.12f : room(sc, D) * (0.5f + 0.5f * blob);
    V c = alb * (load3(sc + 22) * key + amb) * dark;
    // reflection
    V R = d - n * (2 * dot(d, n));
    float f0 = metal > 0.5f ? 0.9f : 0.04f, fr = f0 + (1 - f0) * powf(clampf(1 - fabsf(dot(d, n)), 0, 1), 5.0f);
    V jit = v3(rnd(s) - 0.5f, rnd(s) - 0.5f, rnd(s) - 0.5f);
    R = unit(R + jit * (2 * rough * rough + 0.002f));
    if (R.z < 0) R.z = -R.z;
    V env = hidden(sc, q, R, 80.0f) ? v3(0.1f, 0.1f, 0.1f) : room(sc, R) * (0.4f + 0.6f * blob);
    if (metal > 0.5f) return mix(c * 0.35f, alb * env, 0.75f) * dark;
    return c + env * (fr * (1 - rough) * dark);
}

// A lens ray through picture place x, y.
FN V through(const float* sc, float x, float y) {
    float u = (x - sc[13]) / sc[12], v = (y - sc[14]) / sc[12], r2 = u * u + v * v, k = 1 - sc[17] * r2;
    return load3(sc + 9) + load3(sc + 3) * (u * k) - load3(sc + 6) * (v * k);
}

FN void pixel(const float* sc, int w, int h, int x, int y, int spp, unsigned seed, float* rgb) {
    unsigned s = hash1(seed ^ hash1((unsigned)(y * w + x)));
    V sum = v3(0, 0, 0), eye = load3(sc);
    for (int k = 0; k < spp; k++) {
        V d = through(sc, x + rnd(&s), y + rnd(&s)), at = eye + d * sc[16];
        float a = 6.2832f * rnd(&s), r = sc[15] * sqrtf(rnd(&s));
        V p = eye + load3(sc + 3) * (r * cosf(a)) + load3(sc + 6) * (r * sinf(a));
        d = unit(at - p);
        Hit hit = cast(sc, p, d);
        V c = shade(sc, p + d * hit.t, d, hit, &s);
        sum = sum + v3(fminf(c.x, 4.0f), fminf(c.y, 4.0f), fminf(c.z, 4.0f));
    }
    rgb[0] = sum.x / spp; rgb[1] = sum.y / spp; rgb[2] = sum.z / spp;
}

// masks: shares of the pixel (of the picture at half the size) that are card, leaf, another card
FN void masks(const float* sc, int x, int y, float* m, int plane) {
    float n[4] = {0, 0, 0, 0};
    for (int k = 0; k < 9; k++) {
        Hit hit = cast(sc, load3(sc), unit(through(sc, 2 * (x + (k % 3 + 0.5f) / 3), 2 * (y + (k / 3 + 0.5f) / 3))));
        if (hit.obj >= 0) { int id = (int)sc[HEAD + hit.obj * OBJ + 28]; if (id > 0) n[id]++; }
    }
    for (int k = 0; k < 3; k++) m[k * plane] = n[k + 1] / 9;
}

extern "C" {
#ifdef __CUDACC__
__global__ void render(const float* scenes, int size, int w, int h, int spp, unsigned seed, float* rgb) {
    int x = blockIdx.x * blockDim.x + threadIdx.x, y = blockIdx.y * blockDim.y + threadIdx.y, b = blockIdx.z;
    if (x < w && y < h) pixel(scenes + (size_t)b * size, w, h, x, y, spp, hash1(seed + b), rgb + ((size_t)(b * h + y) * w + x) * 3);
}
__global__ void label(const float* scenes, int size, int w, int h, float* m) {
    int x = blockIdx.x * blockDim.x + threadIdx.x, y = blockIdx.y * blockDim.y + threadIdx.y, b = blockIdx.z;
    if (x < w && y < h) masks(scenes + (size_t)b * size, x, y, m + (size_t)b * 3 * w * h + y * w + x, w * h);
}
#else
void render(const float* scenes, int size, int w, int h, int spp, unsigned seed, float* rgb, int n) {
    for (int b = 0; b < n; b++) for (int y = 0; y < h; y++) for (int x = 0; x < w; x++)
        pixel(scenes + (size_t)b * size, w, h, x, y, spp, hash1(seed + b), rgb + ((size_t)(b * h + y) * w + x) * 3);
}
void label(const float* scenes, int size, int w, int h, float* m, int n) {
    for (int b = 0; b < n; b++) for (int y = 0; y < h; y++) for (int x = 0; x < w; x++)
        masks(scenes + (size_t)b * size, x, y, m + (size_t)b * 3 * w * h + y * w + x, w * h);
}
#endif
}
