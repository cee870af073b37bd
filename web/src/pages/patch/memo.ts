import { type ComponentChild, Component } from "preact";

/** A component that is drawn again only when its properties are others. */
export function memo<P extends object>(view: (props: P) => ComponentChild) {
  return class extends Component<P> {
    override shouldComponentUpdate(next: P): boolean {
      return (Object.keys(next) as (keyof P)[]).some((key) => next[key] !== this.props[key]);
    }

    override render(): ComponentChild {
      return view(this.props as P);
    }
  };
}
