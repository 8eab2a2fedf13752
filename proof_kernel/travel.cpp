// How far the pieces of a moving arm can move at most.
#include "travel.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "surface.h"

namespace handfast::proof {

namespace {

double length(Point p) { return std::sqrt(dot(p, p)); }

// One instant of an arm: its joints' axes and origins, the largest step of each joint, and the sum of those before it.
struct Instant {
    std::vector<Point> axis, origin;
    std::vector<double> largest, before;

    Instant(const Chain &arm, const Asked &asked, std::size_t i) {
        double sum = 0;
        for (std::size_t j = 0; j < arm.n; ++j) {
            const double *T = asked.joints + 16 * (i * (arm.n + 1) + j + 1), *a = arm.axes + 3 * j;
            const Point own{a[0], a[1], a[2]};
            axis.push_back({dot({T[0], T[1], T[2]}, own), dot({T[4], T[5], T[6]}, own), dot({T[8], T[9], T[10]}, own)});
            origin.push_back({T[3], T[7], T[11]});
            double most = 0;
            for (std::size_t c = 0; c < asked.controls; ++c)
                most = std::max(most, std::fabs(asked.steps[(i * asked.controls + c) * arm.n + j]));
            largest.push_back(most);
            before.push_back(sum);
            sum += most;
        }
    }
};

void of_piece(const Chain &arm, const Asked &asked, const Bounds &out, const Instant &now, std::size_t i, std::size_t p) {
    const std::size_t joints = std::size_t(asked.joint_of[p]), at = i * asked.pieces + p;
    const double *c = asked.centre + 3 * at, radius = asked.radius[p];
    const Point centre{c[0], c[1], c[2]};
    double far = 0, tilt = 0, summed = 0, bend = 0;
    for (std::size_t k = 0; k < asked.controls; ++k) {
        const double *step = asked.steps + (i * asked.controls + k) * arm.n;
        Point moved{0, 0, 0}, turned{0, 0, 0};
        for (std::size_t j = 0; j < joints; ++j) {
            moved = moved + step[j] * cross(now.axis[j], centre - now.origin[j]);
            turned = turned + step[j] * now.axis[j];
        }
        double *shift = out.shift + 3 * ((i * asked.controls + k) * asked.pieces + p);
        shift[0] = moved.x, shift[1] = moved.y, shift[2] = moved.z;
        far = std::max(far, length(moved)), tilt = std::max(tilt, length(turned));
    }
    double *tail = out.tail + at * out.tails, links = 0;
    const double own = length(centre - now.origin[joints - 1]);
    for (std::size_t j = joints; j-- > 0;) {
        const double each = now.largest[j], lever = links + own + radius;
        bend += lever * (each * each + 2 * each * now.before[j]) / 2;
        summed += each * (length(cross(now.axis[j], centre - now.origin[j])) + radius);
        tail[j] = summed;
        if (j > 0) links += arm.reach[j - 1];
    }
    for (std::size_t j = 0; j < out.tails; ++j) tail[j] = j < joints ? tail[j] + bend : j < arm.n ? bend : 0.0;
    const double most = now.before[joints - 1] + now.largest[joints - 1];
    out.rest[at] = radius * tilt + bend;
    out.turn[at] = tilt + most * most / 2;
    out.travel[at] = far + out.rest[at];
}

}  // namespace

void travel(const Chain &arm, const Asked &asked, const Bounds &out) {
    for (std::size_t i = 0; i < asked.instants; ++i) {
        const Instant now(arm, asked, i);
        for (std::size_t p = 0; p < asked.pieces; ++p)
            if (asked.joint_of[p] > 0) of_piece(arm, asked, out, now, i, p);
    }
}

}  // namespace handfast::proof
