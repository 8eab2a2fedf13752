// Cut faces, hatched as in a section drawing: each body in a direction of its own.
import { BackSide, type BufferGeometry, Color, Mesh, MeshBasicMaterial } from "three";

const SPACING = 9;

/** What is seen of a closed body's inside where a plane cuts it open: to the eye, the cut face. */
export function sectionFill(geometry: BufferGeometry, index: number, colour: Color, ink: Color): Mesh {
  const material = new MeshBasicMaterial({ color: colour, side: BackSide });
  const slope = index % 2 ? -1 : 1;
  const spacing = SPACING + 3 * (Math.floor(index / 2) % 3);
  material.onBeforeCompile = (shader) => {
    shader.uniforms.hatchInk = { value: ink };
    shader.fragmentShader = shader.fragmentShader
      .replace("#include <common>", "#include <common>\nuniform vec3 hatchInk;")
      .replace(
        "#include <color_fragment>",
        `#include <color_fragment>
         float hatch = mod(gl_FragCoord.x * ${slope.toFixed(1)} + gl_FragCoord.y, ${spacing.toFixed(1)});
         diffuseColor.rgb = mix(diffuseColor.rgb, hatchInk, hatch < 1.6 ? 0.8 : 0.0);`,
      );
  };
  material.customProgramCacheKey = () => `hatch ${slope} ${spacing}`;
  const mesh = new Mesh(geometry, material);
  mesh.visible = false;
  return mesh;
}
