// The distance of two triangles: between an edge and an edge, or a corner and a face, unless an edge goes through a face.
#include <algorithm>

#include "surface.h"

namespace handfast::proof {

namespace {

// Two segments p + s u and q + t v, s and t within 0 and 1 (Ericson 2005, 5.1.9; from memory).
double segments_squared(Point p, Point u, Point q, Point v) {
    const Point w = p - q;
    const double a = dot(u, u), e = dot(v, v), f = dot(v, w), c = dot(u, w), b = dot(u, v);
    double s = 0, t = 0;
    if (a > 0 && e > 0) {
        const double det = a * e - b * b;
        s = det > 1e-14 * a * e ? std::clamp((b * f - c * e) / det, 0.0, 1.0) : 0.0;
        t = (b * s + f) / e;
        if (t < 0) t = 0, s = std::clamp(-c / a, 0.0, 1.0);
        if (t > 1) t = 1, s = std::clamp((b - c) / a, 0.0, 1.0);
    } else if (a > 0) {
        s = std::clamp(-c / a, 0.0, 1.0);
    } else if (e > 0) {
        t = std::clamp(f / e, 0.0, 1.0);
    }
    const Point d = w + s * u - t * v;
    return dot(d, d);
}

struct Face {
    Point at, u, v, normal;
    double uu, uv, vv, det, square;  // square: of the normal
    explicit Face(const Triangle &t) : at(t.a), u(t.b - t.a), v(t.c - t.a), normal(cross(u, v)) {
        uu = dot(u, u), uv = dot(u, v), vv = dot(v, v), det = uu * vv - uv * uv, square = dot(normal, normal);
    }
    // Whether the foot of a point on the plane lies in the face.
    bool holds(Point p) const {
        const Point w = p - at;
        const double wu = dot(w, u), wv = dot(w, v);
        const double s = vv * wu - uv * wv, t = uu * wv - uv * wu;
        return s >= 0 && t >= 0 && s + t <= det;
    }
};

// A corner over the face, or an edge through it; what comes over its edges is left to the segments.
double over_face(const Face &face, const Point *corners, double best) {
    if (face.det <= 1e-12 * face.uu * face.vv) return best;  // as thin as a line: its edges say all
    double height[3];
    for (int i = 0; i < 3; ++i) {
        height[i] = dot(corners[i] - face.at, face.normal);
        const double square = height[i] * height[i] / face.square;
        if (square < best && face.holds(corners[i])) best = square;
    }
    for (int i = 0; i < 3; ++i) {
        const int j = (i + 1) % 3;
        if ((height[i] < 0) == (height[j] < 0)) continue;
        const double share = height[i] / (height[i] - height[j]);
        if (face.holds(corners[i] + share * (corners[j] - corners[i]))) return 0;
    }
    return best;
}

}  // namespace

double apart_squared(const Triangle &a, const Triangle &b) {
    const Point p[3] = {a.a, a.b, a.c}, q[3] = {b.a, b.b, b.c};
    double best = over_face(Face(b), p, 1e300);
    if (best > 0) best = over_face(Face(a), q, best);
    for (int i = 0; i < 3 && best > 0; ++i)
        for (int j = 0; j < 3; ++j)
            best = std::min(best, segments_squared(p[i], p[(i + 1) % 3] - p[i], q[j], q[(j + 1) % 3] - q[j]));
    return best;
}

}  // namespace handfast::proof
